/* plumbfall_params.h: the numbers of one fall detector, in counts and samples.
 *
 * An engineering aid: no medical device, and no certification of any kind.
 * Local codes and licensed practice decide what a product must meet.
 * Simulated falls by young volunteers flatter a detector; expect it to do worse on the people it is for.
 * A recording's calibration makes its g true, and the thresholds below mean true g. A real device's own
 * offset and gain are its own business: calibrate before the samples reach the detector.
 *
 * Scored on 11 recordings with 9 labelled events:
 *   Caught 5 of 6, false alarms 1 of 3, strays 1 in 0.0 h
 *   sensitivity: 83.3 % (43.6 - 97.0 %)
 *   specificity: 66.7 % (20.8 - 93.9 %)
 *   precision: 83.3 % (43.6 - 97.0 %)
 *   F1: 0.83 (0.53 - 0.96)
 *   MCC: 0.50 (-0.25 - 0.87)
 *   Youden's J: 0.50 (-0.11 - 0.80)
 *   strays: 0 in 0.0 h staged, 0.0 an hour (0.0 - 411.1); 1 in 0.0 h free-living, 6990.3 per 24 h (177.0 - 38947.4)
 * The recordings are synthetic, made by a generator: no person moved for them.
 */

#ifndef PLUMBFALL_PARAMS_H
#define PLUMBFALL_PARAMS_H

#include <stdint.h>

/* CRC-32 of the settings below; SHA-256 of the recordings and labels they were scored on. */
#define PLF_IDENTITY_CRC32           0x73D1F692U
#define PLF_RECORDINGS_SHA256        "3d2e414db7d79e5c2e9e1c9a3ceab05f9aa56241206f75d51dafb2e0598068e0"
#define PLF_LABELS_SHA256            "9fe9161cda90e0a70311673804c1067d81ae2d7826db7f5818ea14c51ff520b5"

/* ---- Front end: the sensor these integers are for ---- */

#define PLF_RATE_MILLIHZ               50000U  /* rate_hz: asked 50 Hz */
#define PLF_WIDTH_BITS                    12U  /* bits: asked 12 */
#define PLF_RANGE_MG                    3000U  /* range_g: asked 3 g */
#define PLF_COUNTS_PER_1000_G         395947U  /* counts_per_g: asked 395.9466666666666 */

/* ---- Pre-filter ---- */

/* Every sample is the mean of this many raw ones. */
#define PLF_PREFILTER_SAMPLES              1U  /* prefilter_samples: asked 1 */

/* ---- Free fall ---- */

/* An attempt begins with free fall. Off: it begins with any impact. */
#define PLF_FREE_FALL_ON                   1U  /* free_fall_on: asked on */

/* What must be low: the magnitude, or every axis by itself as a sensor's own free-fall line has it. */
#define PLF_FREE_FALL_EVERY_AXIS           0U  /* free_fall_rule: asked magnitude */

/* Lower than this, the wearer is in free fall. */
#define PLF_FREE_FALL_COUNTS             218U  /* free_fall_g: asked 0.55 g, is 0.550579 g */

/* Low without a break for at least this long. */
#define PLF_FREE_FALL_SAMPLES              4U  /* free_fall_ms: asked 70 ms, is 80 ms */

/* ---- Impact ---- */

/* At least this, the wearer has hit something. */
#define PLF_IMPACT_COUNTS                851U  /* impact_g: asked 2.15 g, is 2.14928 g */

/* The impact comes this soon after the last sample of free fall. */
#define PLF_IMPACT_WITHIN_SAMPLES         45U  /* impact_within_ms: asked 900 ms, is 900 ms */

/* Bounces after the impact are waited out for this long. */
#define PLF_SETTLE_SAMPLES                45U  /* settle_ms: asked 900 ms, is 900 ms */

/* A bigger impact while settling or observing starts the wait anew. */
#define PLF_RESTART_ON                     1U  /* restart_on: asked on */

/* ---- Afterwards ---- */

/* Posture and stillness afterwards are measured over this long. */
#define PLF_OBSERVE_SAMPLES               75U  /* observe_ms: asked 1500 ms, is 1500 ms */

/* The mean direction afterwards must differ from the one before. */
#define PLF_TILT_ON                        1U  /* tilt_on: asked on */

/* The wearer has turned by at least this angle. */
#define PLF_TILT_COSINE_Q14             13421  /* tilt_deg: asked 35 degrees, is 34.9999 degrees */

/* The direction before is the mean over this long. */
#define PLF_BASELINE_SAMPLES              35U  /* baseline_ms: asked 700 ms, is 700 ms */

/* The wearer must lie: the mean afterwards is far from the upright reading. */
#define PLF_RECLINED_ON                    1U  /* reclined_on: asked on */

/* Lying means at least this far from upright. */
#define PLF_RECLINED_COSINE_Q14         11585  /* reclined_deg: asked 45 degrees, is 45.0012 degrees */

/* What the sensor reads on an upright wearer at rest. */
#define PLF_UPRIGHT_X_COUNTS                8  /* upright.x: asked 0.02 g, is 0.0202047 g */
#define PLF_UPRIGHT_Y_COUNTS              392  /* upright.y: asked 0.99 g, is 0.990032 g */
#define PLF_UPRIGHT_Z_COUNTS               20  /* upright.z: asked 0.05 g, is 0.0505119 g */

/* The wearer must lie still afterwards. */
#define PLF_STILL_ON                       1U  /* still_on: asked on */

/* Movement about the mean is at most this, root mean square. */
#define PLF_STILL_COUNTS                  87U  /* still_g: asked 0.22 g, is 0.219727 g */

/* ---- Before ---- */

/* This long just before the fall, the stumble, is left out of what counts as before. */
#define PLF_GUARD_SAMPLES                 20U  /* guard_ms: asked 400 ms, is 400 ms */

/* Reject what follows vigorous movement, as in jogging. */
#define PLF_BUSY_ON                        1U  /* busy_on: asked on */

/* A sample is vigorous outside 1 g +/- this. */
#define PLF_BUSY_LOW_COUNTS              257U  /* busy_band_g: asked 0.35 g, is 0.350923 g */
#define PLF_BUSY_HIGH_COUNTS             535U  /* busy_band_g: asked 0.35 g, is 0.351192 g */

/* Vigorous samples are counted over this long before the guard. */
#define PLF_BUSY_WINDOW_SAMPLES           72U  /* busy_window_ms: asked 1430 ms, is 1440 ms */

/* At most this share of them may be vigorous. */
#define PLF_BUSY_MOST_SAMPLES             63U  /* busy_share_pct: asked 87.5 percent, is 87.5 percent */

/* ---- Alarm ---- */

/* Deaf for this long after an alarm. */
#define PLF_HOLD_OFF_SAMPLES             350U  /* hold_off_ms: asked 7000 ms, is 7000 ms */

/* ---- The ring: guard and baseline as three int16 a sample, guard and window as bits ---- */

#define PLF_RING_VECTORS (PLF_TILT_ON ? PLF_GUARD_SAMPLES + PLF_BASELINE_SAMPLES : 0U)
#define PLF_RING_BITS (PLF_BUSY_ON ? PLF_GUARD_SAMPLES + PLF_BUSY_WINDOW_SAMPLES : 0U)
/* Words of 16 bits, at least one: C has no empty arrays. */
#define PLF_RING_WORDS (3U * PLF_RING_VECTORS + (PLF_RING_BITS + 15U) / 16U \
    + (PLF_RING_VECTORS + PLF_RING_BITS == 0U ? 1U : 0U))
/* Here: 342 bytes. */

/* ---- Bounds that the arithmetic needs: a compiler that stops here found one broken ---- */

#define PLF_CHECK(name, holds) typedef char plf_check_##name[(holds) ? 1 : -1]

PLF_CHECK(prefilter, PLF_PREFILTER_SAMPLES == 1U
    || PLF_PREFILTER_SAMPLES == 2U
    || PLF_PREFILTER_SAMPLES == 4U
    || PLF_PREFILTER_SAMPLES == 8U
    || PLF_PREFILTER_SAMPLES == 16U);
PLF_CHECK(free_fall_on, PLF_FREE_FALL_ON <= 1U);
PLF_CHECK(free_fall_every_axis, PLF_FREE_FALL_EVERY_AXIS <= 1U);
PLF_CHECK(free_fall_counts, PLF_FREE_FALL_COUNTS >= 1U && PLF_FREE_FALL_COUNTS <= 56756U);
PLF_CHECK(free_fall_samples, PLF_FREE_FALL_SAMPLES >= 1U && PLF_FREE_FALL_SAMPLES <= 4096U);
PLF_CHECK(impact_counts, PLF_IMPACT_COUNTS >= 1U && PLF_IMPACT_COUNTS <= 56756U);
PLF_CHECK(impact_within_samples, PLF_IMPACT_WITHIN_SAMPLES >= 1U && PLF_IMPACT_WITHIN_SAMPLES <= 65535U);
PLF_CHECK(settle_samples, PLF_SETTLE_SAMPLES >= 1U && PLF_SETTLE_SAMPLES <= 4096U);
PLF_CHECK(restart_on, PLF_RESTART_ON <= 1U);
PLF_CHECK(observe_samples, PLF_OBSERVE_SAMPLES >= 1U && PLF_OBSERVE_SAMPLES <= 4096U);
PLF_CHECK(tilt_on, PLF_TILT_ON <= 1U);
PLF_CHECK(tilt_cosine_q14, PLF_TILT_COSINE_Q14 >= (-16384) && PLF_TILT_COSINE_Q14 <= 16384);
PLF_CHECK(baseline_samples, PLF_BASELINE_SAMPLES >= 1U && PLF_BASELINE_SAMPLES <= 4096U);
PLF_CHECK(reclined_on, PLF_RECLINED_ON <= 1U);
PLF_CHECK(reclined_cosine_q14, PLF_RECLINED_COSINE_Q14 >= (-16384) && PLF_RECLINED_COSINE_Q14 <= 16384);
PLF_CHECK(upright_x_counts, PLF_UPRIGHT_X_COUNTS >= (-16384) && PLF_UPRIGHT_X_COUNTS <= 16384);
PLF_CHECK(upright_y_counts, PLF_UPRIGHT_Y_COUNTS >= (-16384) && PLF_UPRIGHT_Y_COUNTS <= 16384);
PLF_CHECK(upright_z_counts, PLF_UPRIGHT_Z_COUNTS >= (-16384) && PLF_UPRIGHT_Z_COUNTS <= 16384);
PLF_CHECK(still_on, PLF_STILL_ON <= 1U);
PLF_CHECK(still_counts, PLF_STILL_COUNTS >= 1U && PLF_STILL_COUNTS <= 56756U);
PLF_CHECK(guard_samples, PLF_GUARD_SAMPLES <= 4096U);
PLF_CHECK(busy_on, PLF_BUSY_ON <= 1U);
PLF_CHECK(busy_low_counts, PLF_BUSY_LOW_COUNTS <= 56756U);
PLF_CHECK(busy_high_counts, PLF_BUSY_HIGH_COUNTS >= 1U && PLF_BUSY_HIGH_COUNTS <= 56756U);
PLF_CHECK(busy_window_samples, PLF_BUSY_WINDOW_SAMPLES >= 1U && PLF_BUSY_WINDOW_SAMPLES <= 4096U);
PLF_CHECK(busy_most_samples, PLF_BUSY_MOST_SAMPLES <= 4096U);
PLF_CHECK(hold_off_samples, PLF_HOLD_OFF_SAMPLES >= 1U && PLF_HOLD_OFF_SAMPLES <= 65535U);
PLF_CHECK(upright, PLF_UPRIGHT_X_COUNTS != 0 || PLF_UPRIGHT_Y_COUNTS != 0 || PLF_UPRIGHT_Z_COUNTS != 0);
PLF_CHECK(busy_most, PLF_BUSY_MOST_SAMPLES <= PLF_BUSY_WINDOW_SAMPLES);
/* No sample may be both low and an impact. */
PLF_CHECK(low_below_impact, !PLF_FREE_FALL_ON || (PLF_FREE_FALL_EVERY_AXIS
    ? (uint64_t)3 * (PLF_FREE_FALL_COUNTS - 1U) * (PLF_FREE_FALL_COUNTS - 1U)
        < (uint64_t)PLF_IMPACT_COUNTS * PLF_IMPACT_COUNTS
    : PLF_FREE_FALL_COUNTS <= PLF_IMPACT_COUNTS));

/* ---- The device around these integers: words for people, no part of the identity ----
 *
 * part: analogue, +/-3 g, 12 bits, 50 Hz, 395.947 counts/g
 *   supply: 2.8 V
 *   specified at: 3 V
 *   zero-g level: 1.5 V
 *   sensitivity: 290 mV/g
 *   ratiometric: yes
 *   full scale +/-: 3 g
 *   converter: 12 bits
 *   converter's reference: supply
 *   fixed reference: 3 V
 *   filter, R: 32 kOhm
 *   filter, C: 220 nF
 *   noise density: 150 ug/sqrt Hz
 *   0 g: 1.4 V
 *   0 g: 2048 code
 *   1 g: 270.7 mV
 *   lowest reading: -5.172 g
 *   highest reading: 5.17 g
 *   scale: 395.9 counts/g
 *   a count: 2.526 mg
 *   quantisation: 0.7291 mg RMS
 *   filter's corner: 22.61 Hz
 *   noise: 0.8939 mg RMS
 *   noise and quantisation: 1.153 mg RMS
 *   largest magnitude: 5.196 g
 *   free-fall threshold: 218 counts
 *   impact threshold: 851 counts
 * budget: 25.17 uA, 308 days, sensor running takes 71.5 %
 *   mean current: 25.17 uA (sensor running takes 71.5 %)
 *   lasts: 308 days (187 mAh to the cut-off)
 *   sensor running: 18 uA (71.5 %)
 *   sensor asleep: 2.7 uA (10.7 %)
 *   everything else: 2 uA (7.94 %)
 *   processor asleep: 1.5 uA (5.96 %)
 *   processor running: 0.7474 uA (2.97 %)
 *   radio, signs of life: 0.1667 uA (0.662 %)
 *   bus or converter: 0.045 uA (0.179 %)
 *   radio, alarms: 0.0139 uA (0.0552 %)
 *   sensor waking: 0.001 uA (0.004 %)
 *   alarms a day: 2 (as typed)
 *   sent of them: 0.2 (the wearer may cancel for 15 s before one is sent)
 *   an alarm costs: 1.667 uAh (radio on for 500 ms)
 *   signs of life cost: 4 uAh (a day)
 *   processor runs: 0.0311 % (of the time)
 *   one read: 30 us (three conversions)
 *   converter: 0.015 % (at most 33 330 samples a second)
 *   buffer: 0.03 ms (an alarm may come so much later)
 *   nodes, every sample sent: 64 (one receiver bears; 1 takes 1.56 % of its time)
 *   an event's record: 1 705 bytes (1 575 of them samples, 350 of three times 12 bits)
 *   events in the memory: 34 (of 64 KiB, always whole)
 *   the memory wears out in: 520.2 years (at 2 records a day)
 *   warning: A device that slept has no before: tilt and busy can't speak until it was awake for 1840 ms, and
 *       passes.
 * numbers of the budget, with where each comes from:
 *   wake.line = pulse, quiet (set for this study; starts at free fall)
 *   wake.free_fall_g = 0.35 g (from memory)
 *   wake.free_fall_ms = 100 ms (from memory)
 *   wake.threshold_g = 2 g (from memory)
 *   wake.threshold_ms = 20 ms (from memory)
 *   wake.pulse_g = 2.5 g (from memory)
 *   wake.pulse_ms = 200 ms (from memory)
 *   wake.pulse_quiet_ms = 300 ms (from memory)
 *   wake.timer_asleep_ms = 200 ms (common practice, no source)
 *   wake.timer_awake_ms = 300 ms (common practice, no source)
 *   wake.line_rate_hz = 50 Hz (from memory)
 *   wake.offset_mg = 50 mg (from memory)
 *   wake.waking_ms = 1 ms (common practice, no source)
 *   wake.buffer = none (common practice, no source)
 *   wake.watermark_samples = 1 samples (common practice, no source)
 *   wake.stay_ms = 2000 ms (common practice, no source)
 *   wake.finishes = on (common practice, no source)
 *   wake.fall_m = 0.5 m (common practice, no source)
 *   current.sleeps = until woken (set for this study; starts at never)
 *   current.running_ua = 180 uA (from memory)
 *   current.asleep_ua = 3 uA (from memory)
 *   current.waking_ua = 180 uA (from memory)
 *   current.waking_ms = 0.5 ms (from memory)
 *   current.awake_ms = 0.5 ms (from memory)
 *   current.awake_pct = 10 % (common practice, no source)
 *   current.wakes_per_hour = 20 an hour (common practice, no source)
 *   current.rest_ua = 2 uA (from memory)
 *   processor.instructions = 131 (measured, emulated Cortex-M3)
 *   processor.cycles = 1.5 (from memory)
 *   processor.clock_mhz = 16 MHz (common practice, no source)
 *   processor.ua_per_mhz = 150 uA/MHz (from memory)
 *   processor.asleep_ua = 1.5 uA (from memory)
 *   processor.waking_us = 20 us (from memory)
 *   processor.waits_on = on (common practice, no source)
 *   battery.capacity_mah = 220 mAh (common practice, no source)
 *   battery.charge_pct = 100 % (common practice, no source)
 *   battery.cut_off_pct = 15 % (from memory)
 *   battery.self_discharge_pct = 1 % a year (from memory)
 *   battery.voltage_v = 3 V (common practice, no source)
 *   battery.peak_ma = 15 mA (from memory)
 *   battery.wanted_days = 30 days (common practice, no source)
 *   bus.kind = I2C fast (UM10204)
 *   bus.spi_clock_khz = 1000 kHz (common practice, no source)
 *   bus.sample_bytes = 6 bytes (common practice, no source)
 *   bus.pull_up_kohm = 4.7 kOhm (common practice, no source)
 *   bus.spi_ua = 100 uA (from memory)
 *   bus.convert_us = 30 us (from memory)
 *   bus.converter_ua = 300 uA (from memory)
 *   radio.sends = alarms (common practice, no source)
 *   radio.alarms_from = as typed (set for this study; starts at the study)
 *   radio.alarms_per_day = 2 a day (common practice, no source)
 *   radio.alarm_ms = 500 ms (from memory)
 *   radio.alive_per_day = 24 a day (common practice, no source)
 *   radio.alive_ms = 50 ms (from memory)
 *   radio.on_ma = 12 mA (from memory)
 *   radio.bit_rate_kbps = 250 kbit/s (IEEE Std 802.15.4)
 *   radio.payload_bytes = 96 bytes (common practice, no source)
 *   radio.overhead_bytes = 17 bytes (IEEE Std 802.15.4)
 *   radio.slot_ms = 5 ms (common practice, no source)
 *   radio.nodes = 1 (common practice, no source)
 *   memory.kib = 64 KiB (common practice, no source)
 *   memory.block_bytes = 4096 bytes (common practice, no source)
 *   memory.unit_bytes = 8 bytes (common practice, no source)
 *   memory.before_s = 6 s (common practice, no source)
 *   memory.after_s = 1 s (common practice, no source)
 *   memory.bits = 12 bits (common practice, no source)
 *   memory.measured = on (common practice, no source)
 *   memory.cycles = 10000 erases (from memory)
 *   memory.records_per_day = 2 a day (common practice, no source)
 *   life.cancel_s = 15 s (common practice, no source)
 *   life.resend_s = 5 s (common practice, no source)
 *   life.sends = 6 (common practice, no source)
 *   life.slow_s = 60 s (common practice, no source)
 *   life.rest_s = 10 s (common practice, no source)
 *   life.others_cancelled_pct = 90 % (common practice, no source)
 *   life.falls_cancelled_pct = 10 % (common practice, no source)
 *   life.press_s = 6 s (common practice, no source)
 *   life.heard_pct = 95 % (common practice, no source)
 *   life.answer_s = 1 s (common practice, no source)
 */

#endif
