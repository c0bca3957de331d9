# SPDX-License-Identifier: MIT
# plumbfall.mk: in a Makefile, "include .../plumbfall.mk", then compile $(PLUMBFALL_C) with $(PLUMBFALL_FLAGS). The path has
# no spaces: make takes none.
PLUMBFALL := $(patsubst %/,%,$(dir $(lastword $(MAKEFILE_LIST))))
PLUMBFALL_FLAGS := -I$(PLUMBFALL)

# The detector alone.
PLUMBFALL_DETECTOR_C := $(addprefix $(PLUMBFALL)/plumbfall_,detector.c settings.c sensor.c crc.c)
# With everything around it; what nobody calls the linker leaves out (-ffunction-sections, -Wl,--gc-sections).
PLUMBFALL_C := $(PLUMBFALL_DETECTOR_C) \
    $(addprefix $(PLUMBFALL)/plumbfall_,record.c ring.c log.c outcome.c recorder.c alarm.c link.c frame.c journal.c block.c \
    station.c tag.c) \
    $(PLUMBFALL)/siphash/siphash.c
# A device that needs no hardware.
PLUMBFALL_EXAMPLE_C := $(addprefix $(PLUMBFALL)/example/,main.c memory.c radio.c sampling.c fake_flash.c fake_radio.c \
    fake_sensor.c)
