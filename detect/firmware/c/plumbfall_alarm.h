/* SPDX-License-Identifier: MIT */
/* plumbfall_alarm.h: the life of an alarm, from the detector's decision to the station's acknowledgement.
 *
 *   static const plf_alarm_settings settings = { 15000, 5000, 6, 60000, 10000 };
 *   plf_alarm_init(&alarm);
 *   switch (plf_alarm_step(&alarm, &settings, now_ms, PLF_FALL, number)) ...     at a fall; then do as it returns
 *   switch (plf_alarm_step(&alarm, &settings, now_ms, PLF_TIME, 0)) ...          a few times a second
 *
 * The wearer is warned first and can cancel; then it is sent, again and again until the station acknowledges, and
 * after a rest the device is armed again. What was sent can't be cancelled, only withdrawn: the station is told, and
 * has to acknowledge all the same. A fall while an alarm is open starts no new one; it is counted as suppressed.
 * LOG.md has the table of all transitions.
 *
 * `now_ms` may wrap; it must not stand still or jump back, and a step is due at least every 2^31 ms.
 */
#ifndef PLUMBFALL_ALARM_H
#define PLUMBFALL_ALARM_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

enum plf_alarm_stage { PLF_ARMED, PLF_WARNING, PLF_SENT, PLF_UNDELIVERED, PLF_RESTING };
enum plf_alarm_input {
    PLF_TIME,        /* no input, only time has passed */
    PLF_FALL,        /* the detector's alarm; `number`: the one its record will get */
    PLF_CANCEL,      /* the wearer pressed the button */
    PLF_ACKNOWLEDGE, /* the station has acknowledged alarm `number` */
    PLF_REARM        /* the station, or whoever has helped, arms the device at once */
};
enum plf_alarm_action {
    PLF_DO_NOTHING,
    PLF_DO_WARN,               /* buzz: it will be sent unless the wearer cancels */
    PLF_DO_SEND,               /* to the station: `number`, `sends`, `withdrawn` */
    PLF_DO_CANCEL,             /* stop buzzing; the log's outcome is PLF_CANCELLED */
    PLF_DO_REPORT_UNDELIVERED, /* tell the wearer that no station has acknowledged, and send once more */
    PLF_DO_REPORT_DELIVERED,   /* tell the wearer that help knows; the outcome: PLF_ACKNOWLEDGED, or PLF_WITHDRAWN */
    PLF_DO_ARM                 /* all is as before the alarm */
};

/* Each at most 2^31 - 1 ms. `cancel_ms` 0: sent at once. */
typedef struct {
    uint32_t cancel_ms; /* how long the wearer may cancel before it is sent */
    uint32_t resend_ms; /* between the first sends */
    uint32_t sends;     /* so many, at least 1; then it is undelivered */
    uint32_t slow_ms;   /* between sends of an undelivered alarm, which never end */
    uint32_t rest_ms;   /* from cancelled or acknowledged until armed */
} plf_alarm_settings;

typedef struct {
    uint32_t number;     /* of the current alarm */
    uint32_t since;      /* when the stage, or the last send in it, began */
    uint32_t sends;      /* of this alarm so far */
    uint32_t suppressed; /* falls since plf_alarm_init that started no new alarm */
    uint8_t stage;       /* enum plf_alarm_stage */
    uint8_t withdrawn;   /* the wearer pressed the button after it was sent */
} plf_alarm;

void plf_alarm_init(plf_alarm *alarm);
/* One input, one transition at most. An input goes before the time: to cancel before it was sent is to cancel. */
enum plf_alarm_action plf_alarm_step(plf_alarm *alarm, const plf_alarm_settings *settings, uint32_t now_ms,
                                     enum plf_alarm_input input, uint32_t number);

#ifdef __cplusplus
}
#endif

#endif
