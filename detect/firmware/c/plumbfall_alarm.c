/* SPDX-License-Identifier: MIT */
/* plumbfall_alarm.c: see plumbfall_alarm.h. C99, integers only. */
#include "plumbfall_alarm.h"

#include <stddef.h>

static enum plf_alarm_action go(plf_alarm *alarm, enum plf_alarm_stage stage, uint32_t now,
                                enum plf_alarm_action action)
{
    alarm->stage = (uint8_t)stage;
    alarm->since = now;
    return action;
}

static enum plf_alarm_action send(plf_alarm *alarm, uint32_t now)
{
    alarm->sends++; /* may wrap: only the first few are counted against `sends` of the settings */
    return go(alarm, alarm->stage == PLF_UNDELIVERED ? PLF_UNDELIVERED : PLF_SENT, now, PLF_DO_SEND);
}

static enum plf_alarm_action armed(plf_alarm *alarm, const plf_alarm_settings *s, uint32_t now,
                                   enum plf_alarm_input input, uint32_t number)
{
    if (input != PLF_FALL) {
        return PLF_DO_NOTHING;
    }
    alarm->number = number;
    alarm->sends = 0;
    alarm->withdrawn = 0;
    return s->cancel_ms > 0 ? go(alarm, PLF_WARNING, now, PLF_DO_WARN) : send(alarm, now);
}

static enum plf_alarm_action warning(plf_alarm *alarm, const plf_alarm_settings *s, uint32_t now,
                                     enum plf_alarm_input input)
{
    if (input == PLF_CANCEL) {
        return go(alarm, PLF_RESTING, now, PLF_DO_CANCEL);
    }
    return now - alarm->since >= s->cancel_ms ? send(alarm, now) : PLF_DO_NOTHING;
}

/* The first press is sent at once; further ones add nothing. */
static enum plf_alarm_action withdraw(plf_alarm *alarm, uint32_t now)
{
    if (alarm->withdrawn) {
        return PLF_DO_NOTHING;
    }
    alarm->withdrawn = 1;
    return send(alarm, now);
}

static enum plf_alarm_action sent(plf_alarm *alarm, const plf_alarm_settings *s, uint32_t now,
                                  enum plf_alarm_input input, uint32_t number)
{
    const uint32_t pause = alarm->stage == PLF_UNDELIVERED ? s->slow_ms : s->resend_ms;
    if (input == PLF_ACKNOWLEDGE && number == alarm->number) {
        return go(alarm, PLF_RESTING, now, PLF_DO_REPORT_DELIVERED);
    }
    if (input == PLF_CANCEL) {
        return withdraw(alarm, now);
    }
    if (now - alarm->since < pause) {
        return PLF_DO_NOTHING;
    }
    if (alarm->stage == PLF_SENT && alarm->sends >= s->sends) {
        send(alarm, now);
        return go(alarm, PLF_UNDELIVERED, now, PLF_DO_REPORT_UNDELIVERED);
    }
    return send(alarm, now);
}

static enum plf_alarm_action resting(plf_alarm *alarm, const plf_alarm_settings *s, uint32_t now,
                                     enum plf_alarm_input input)
{
    if (input == PLF_REARM || now - alarm->since >= s->rest_ms) {
        return go(alarm, PLF_ARMED, now, PLF_DO_ARM);
    }
    return PLF_DO_NOTHING;
}

void plf_alarm_init(plf_alarm *alarm)
{
    const plf_alarm fresh = { 0 };
    if (alarm != NULL) {
        *alarm = fresh;
    }
}

enum plf_alarm_action plf_alarm_step(plf_alarm *alarm, const plf_alarm_settings *settings, uint32_t now_ms,
                                     enum plf_alarm_input input, uint32_t number)
{
    if (alarm == NULL || settings == NULL) {
        return PLF_DO_NOTHING;
    }
    if (input == PLF_FALL && alarm->stage != PLF_ARMED) {
        alarm->suppressed++;
    }
    switch (alarm->stage) {
    case PLF_ARMED:
        return armed(alarm, settings, now_ms, input, number);
    case PLF_WARNING:
        return warning(alarm, settings, now_ms, input);
    case PLF_SENT:
    case PLF_UNDELIVERED:
        return sent(alarm, settings, now_ms, input, number);
    default:
        return resting(alarm, settings, now_ms, input);
    }
}
