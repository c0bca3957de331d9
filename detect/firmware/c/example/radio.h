/* SPDX-License-Identifier: MIT */
/* radio.h: what goes to the station and what it asks, all in one kind of frame. */
#ifndef RADIO_H
#define RADIO_H

#include "plumbfall_station.h"

void radio_start(plf_block *parameters);
/* Says who this is: after every start, and when other parameters are in force. */
void radio_hello(void);
/* Says that there is an alarm, each time that its life asks for it. */
void radio_alarm(const plf_alarm *alarm, uint32_t seconds);
/* Samples as they are measured, where the station has asked for them. */
void radio_stream(uint8_t wanted);
void radio_sample(const int16_t counts[3]);
void radio_gap(void);
/* In the main loop: PLF_READY where a command asks something of the firmware. Call again until it doesn't. */
enum plf_result radio_poll(plf_station_order *order);
void radio_self_test(uint8_t found);

#endif
