/* SPDX-License-Identifier: MIT */
/* board.h: what the example needs of a board. fake_sensor.c, fake_flash.c and fake_radio.c together are one that needs no
 * hardware; put yours in their place.
 */
#ifndef BOARD_H
#define BOARD_H

#include "plumbfall_alarm.h"
#include "plumbfall_log.h"
#include "plumbfall_sensor.h"
#include "plumbfall_tag.h"

enum { BOARD_NODE = 1, BOARD_EVERYBODY = 0xFFFF };

/* ---- Sensor: its data-ready interrupt calls sampling_interrupt (sampling.h) ---- */

void board_start(void);               /* everything on; called first */
void board_reading(int32_t raw[3]);   /* the newest, as the sensor hands it over; called inside the interrupt */
uint8_t board_self_test(void);        /* what it found: 0 nothing wrong */
extern const plf_calibration board_calibration; /* this device's own, from its production test */

/* ---- Memory: one area for the log, one of four blocks for parameters ---- */

extern const plf_flash board_log_flash;
extern const plf_flash board_parameter_flash;

/* ---- Radio or line to the station ---- */

void board_send(const uint8_t *bytes, uint32_t size);
int board_receive(void);                    /* the byte that has come; -1: none has */
extern uint8_t board_key[PLF_KEY_BYTES];    /* this device's own, given to it when it was provisioned */

/* ---- The rest ---- */

uint32_t board_ms(void);              /* runs freely and may wrap */
uint16_t board_starts(void);          /* another number after each reset: counted, or random */
uint16_t board_battery_mv(void);
uint8_t board_button(void);           /* 1, once for each press */
void board_signal(enum plf_alarm_action action); /* buzzer, light: what the wearer is told */
uint8_t board_wait(void);             /* sleeps until an interrupt; 0: there will be none any more, the program ends */
int board_result(void);               /* what main returns then */

#endif
