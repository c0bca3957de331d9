/* plumbfall_params.h: the numbers of one fall detector, in counts and samples.
 *
 * An engineering aid: no medical device, and no certification of any kind.
 * Local codes and licensed practice decide what a product must meet.
 * Simulated falls by young volunteers flatter a detector; expect it to do worse on the people it is for.
 * A recording's calibration makes its g true, and the thresholds below mean true g. A real device's own
 * offset and gain are its own business: calibrate before the samples reach the detector.
 *
 * Scored on 11 recordings with 9 labelled events:
 *   Caught 1 of 6, false alarms 0 of 3, strays 0 in 0.0 h
 *   sensitivity: 16.7 % (3.0 - 56.4 %)
 *   specificity: 100.0 % (43.9 - 100.0 %)
 *   precision: 100.0 % (20.7 - 100.0 %)
 *   F1: 0.29 (0.06 - 0.72)
 *   MCC: 0.25 (-0.41 - 0.58)
 *   Youden's J: 0.17 (-0.41 - 0.56)
 *   strays: 0 in 0.0 h staged, 0.0 an hour (0.0 - 409.2); 0 in 0.0 h free-living, 0.0 per 24 h (0.0 - 25752.1)
 * The recordings are synthetic, made by a generator: no person moved for them.
 */

#ifndef PLUMBFALL_PARAMS_H
#define PLUMBFALL_PARAMS_H

#include <stdint.h>

/* CRC-32 of the settings below; SHA-256 of the recordings and labels they were scored on. */
#define PLF_IDENTITY_CRC32           0x46361200U
#define PLF_RECORDINGS_SHA256        "3d2e414db7d79e5c2e9e1c9a3ceab05f9aa56241206f75d51dafb2e0598068e0"
#define PLF_LABELS_SHA256            "9fe9161cda90e0a70311673804c1067d81ae2d7826db7f5818ea14c51ff520b5"

/* ---- Front end: the sensor these integers are for ---- */

#define PLF_RATE_MILLIHZ               52600U  /* rate_hz: asked 52.6 Hz */
#define PLF_WIDTH_BITS                    13U  /* bits: asked 13 */
#define PLF_RANGE_MG                    6000U  /* range_g: asked 6 g */
#define PLF_COUNTS_PER_1000_G         333250U  /* counts_per_g: asked 333.25 */

/* ---- Pre-filter ---- */

/* Every sample is the mean of this many raw ones. */
#define PLF_PREFILTER_SAMPLES              4U  /* prefilter_samples: asked 4 */

/* ---- Free fall ---- */

/* An attempt begins with free fall. Off: it begins with any impact. */
#define PLF_FREE_FALL_ON                   1U  /* free_fall_on: asked on */

/* What must be low: the magnitude, or every axis by itself as a sensor's own free-fall line has it. */
#define PLF_FREE_FALL_EVERY_AXIS           1U  /* free_fall_rule: asked every_axis */

/* Lower than this, the wearer is in free fall. */
#define PLF_FREE_FALL_COUNTS             111U  /* free_fall_g: asked 0.3333 g, is 0.333083 g */

/* Low without a break for at least this long. */
#define PLF_FREE_FALL_SAMPLES              4U  /* free_fall_ms: asked 70 ms, is 76.0456 ms */

/* ---- Impact ---- */

/* At least this, the wearer has hit something. */
#define PLF_IMPACT_COUNTS                777U  /* impact_g: asked 2.71828 g, is 2.71868 g */

/* The impact comes this soon after the last sample of free fall. */
#define PLF_IMPACT_WITHIN_SAMPLES         47U  /* impact_within_ms: asked 900 ms, is 893.536 ms */

/* Bounces after the impact are waited out for this long. */
#define PLF_SETTLE_SAMPLES                47U  /* settle_ms: asked 900 ms, is 893.536 ms */

/* A bigger impact while settling or observing starts the wait anew. */
#define PLF_RESTART_ON                     1U  /* restart_on: asked on */

/* ---- Afterwards ---- */

/* Posture and stillness afterwards are measured over this long. */
#define PLF_OBSERVE_SAMPLES               79U  /* observe_ms: asked 1500 ms, is 1501.9 ms */

/* The mean direction afterwards must differ from the one before. */
#define PLF_TILT_ON                        1U  /* tilt_on: asked on */

/* The wearer has turned by at least this angle. */
#define PLF_TILT_COSINE_Q14           (-4102)  /* tilt_deg: asked 104.5 degrees, is 104.499 degrees */

/* The direction before is the mean over this long. */
#define PLF_BASELINE_SAMPLES              37U  /* baseline_ms: asked 700 ms, is 703.422 ms */

/* The wearer must lie: the mean afterwards is far from the upright reading. */
#define PLF_RECLINED_ON                    1U  /* reclined_on: asked on */

/* Lying means at least this far from upright. */
#define PLF_RECLINED_COSINE_Q14        (-643)  /* reclined_deg: asked 92.25 degrees, is 92.2492 degrees */

/* What the sensor reads on an upright wearer at rest. */
#define PLF_UPRIGHT_X_COUNTS           (-200)  /* upright.x: asked -0.6 g, is -0.60015 g */
#define PLF_UPRIGHT_Y_COUNTS              233  /* upright.y: asked 0.7 g, is 0.699175 g */
#define PLF_UPRIGHT_Z_COUNTS           (-133)  /* upright.z: asked -0.4 g, is -0.3991 g */

/* The wearer must lie still afterwards. */
#define PLF_STILL_ON                       1U  /* still_on: asked on */

/* Movement about the mean is at most this, root mean square. */
#define PLF_STILL_COUNTS                  60U  /* still_g: asked 0.18 g, is 0.180045 g */

/* ---- Before ---- */

/* This long just before the fall, the stumble, is left out of what counts as before. */
#define PLF_GUARD_SAMPLES                  0U  /* guard_ms: asked 0 ms, is 0 ms */

/* Reject what follows vigorous movement, as in jogging. */
#define PLF_BUSY_ON                        1U  /* busy_on: asked on */

/* A sample is vigorous outside 1 g +/- this. */
#define PLF_BUSY_LOW_COUNTS                0U  /* busy_band_g: asked 1.37 g, is 1 g */
#define PLF_BUSY_HIGH_COUNTS             790U  /* busy_band_g: asked 1.37 g, is 1.37059 g */

/* Vigorous samples are counted over this long before the guard. */
#define PLF_BUSY_WINDOW_SAMPLES          175U  /* busy_window_ms: asked 3333.3 ms, is 3327 ms */

/* At most this share of them may be vigorous. */
#define PLF_BUSY_MOST_SAMPLES             41U  /* busy_share_pct: asked 33.3 percent, is 33.1429 percent */

/* ---- Alarm ---- */

/* Deaf for this long after an alarm. */
#define PLF_HOLD_OFF_SAMPLES            3156U  /* hold_off_ms: asked 59999 ms, is 60000 ms */

/* ---- The ring: guard and baseline as three int16 a sample, guard and window as bits ---- */

#define PLF_RING_VECTORS (PLF_TILT_ON ? PLF_GUARD_SAMPLES + PLF_BASELINE_SAMPLES : 0U)
#define PLF_RING_BITS (PLF_BUSY_ON ? PLF_GUARD_SAMPLES + PLF_BUSY_WINDOW_SAMPLES : 0U)
/* Words of 16 bits, at least one: C has no empty arrays. */
#define PLF_RING_WORDS (3U * PLF_RING_VECTORS + (PLF_RING_BITS + 15U) / 16U \
    + (PLF_RING_VECTORS + PLF_RING_BITS == 0U ? 1U : 0U))
/* Here: 244 bytes. */

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
 * part: digital, +/-6 g, 13 bits, 52.6 Hz, 333.25 counts/g
 *   low-pass: half the rate
 *   own bandwidth: 25 Hz
 *   noise density: 150 ug/sqrt Hz
 *   buffer: 32 samples
 *   buffer lasts: 0.6084 s
 *   scale: 333.2 counts/g
 *   a count: 3.001 mg
 *   quantisation: 0.8662 mg RMS
 *   filter's corner: 26.3 Hz
 *   noise: 0.9641 mg RMS
 *   noise and quantisation: 1.296 mg RMS
 *   largest magnitude: 10.39 g
 *   free-fall threshold: 111 counts
 *   impact threshold: 906 counts
 * budget: 221.3 uA, 35.2 days, sensor running takes 81.3 %
 *   mean current: 221.3 uA (sensor running takes 81.3 %)
 *   lasts: 35.2 days (187 mAh to the cut-off)
 *   sensor running: 180 uA (81.3 %)
 *   processor running: 30.59 uA (13.8 %)
 *   bus or converter: 7.051 uA (3.19 %)
 *   everything else: 2 uA (0.904 %)
 *   processor asleep: 1.481 uA (0.669 %)
 *   radio, signs of life: 0.1667 uA (0.0753 %)
 *   alarms a day: 0 (the study's strays: 0 in 0.0 h free-living, 0.0 - 25752.1 a day with 95 %)
 *   sent of them: 0 (the wearer may cancel for 15 s before one is sent)
 *   an alarm costs: 1.667 uAh (radio on for 500 ms)
 *   signs of life cost: 4 uAh (a day)
 *   processor runs: 1.27 % (of the time)
 *   one read: 210 us (84 bit times, 210 us a sample)
 *   bus: 1.1 % (at most 4 762 samples a second)
 *   buffer: 0.21 ms (an alarm may come so much later)
 *   nodes, every sample sent: 60 (one receiver bears; 1 takes 1.64 % of its time)
 *   an event's record: 1 791 bytes (1 661 of them samples, 369 of three times 12 bits)
 *   events in the memory: 32 (of 64 KiB, always whole)
 *   the memory wears out in: 492.8 years (at 2 records a day)
 *   warning: 316 samples are kept before an alarm, and the rule looks back on up to 356: a fall may not be
 *       found again on the bench. Keep 6.8 s.
 *   warning: The lowest 1 of 13 bits are not kept: the bench sees steps of 2 counts.
 * numbers of the budget, with where each comes from:
 *   current.sleeps = never (common practice, no source)
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
 *   radio.alarms_from = the study (common practice, no source)
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
