/* Edge timer on a pin-change interrupt alone, for a pin that no timer can capture: the interrupt reads the timer
 * itself, so that the time is as late as the interrupt, some microseconds, and scatters by what else the
 * processor was at. Prints "microseconds,level" at each edge.
 *
 * Wiring as in capture.c. Keep every other interrupt short. */
#include "edges.h"

static uint8_t last;

INTERRUPT(timer_overflow)
{
	overflows++;
	OVERFLOW_DONE();
}

INTERRUPT(pin_change)
{
	uint16_t count = TIMER_COUNT; /* first of all */
	uint8_t level = PIN_LEVEL();
	if (level == last) {
		missing = 1; /* there and back before it could be looked at */
		return;
	}
	put(stamp(count), count, level);
	last = level;
}

int main(void)
{
	INTERRUPTS_OFF();
	last = PIN_LEVEL();
	greet();
	INTERRUPTS_ON();
	for (;;) {
		print_edges();
#ifdef HOST
		if (!host_step())
			return 0;
#endif
	}
}
