# SPDX-License-Identifier: MIT
# plumbfall_sources.cmake: what is built into firmware, and the example; the linker leaves out what nobody calls.
set(PLUMBFALL ${CMAKE_CURRENT_LIST_DIR})
set(PLUMBFALL_SOURCES
    ${PLUMBFALL}/plumbfall_alarm.c
    ${PLUMBFALL}/plumbfall_block.c
    ${PLUMBFALL}/plumbfall_crc.c
    ${PLUMBFALL}/plumbfall_detector.c
    ${PLUMBFALL}/plumbfall_frame.c
    ${PLUMBFALL}/plumbfall_journal.c
    ${PLUMBFALL}/plumbfall_link.c
    ${PLUMBFALL}/plumbfall_log.c
    ${PLUMBFALL}/plumbfall_outcome.c
    ${PLUMBFALL}/plumbfall_record.c
    ${PLUMBFALL}/plumbfall_recorder.c
    ${PLUMBFALL}/plumbfall_ring.c
    ${PLUMBFALL}/plumbfall_sensor.c
    ${PLUMBFALL}/plumbfall_settings.c
    ${PLUMBFALL}/plumbfall_station.c
    ${PLUMBFALL}/plumbfall_tag.c
    ${PLUMBFALL}/siphash/siphash.c)
set(PLUMBFALL_EXAMPLE
    ${PLUMBFALL}/example/main.c
    ${PLUMBFALL}/example/memory.c
    ${PLUMBFALL}/example/radio.c
    ${PLUMBFALL}/example/sampling.c
    ${PLUMBFALL}/example/fake_flash.c
    ${PLUMBFALL}/example/fake_radio.c
    ${PLUMBFALL}/example/fake_sensor.c)
