/* Edge timer on a timer's input capture: the hardware keeps the count at the edge, so that the time is exact to
 * one tick however late the interrupt runs. Prints "microseconds,level" at each edge.
 *
 * Connect the circuit's output to the capture pin through 1 kOhm to 10 kOhm, and ground to ground; where the
 * circuit runs on more than the microcontroller's supply, put a divider in between. */
#include "edges.h"

static uint8_t rising = 1; /* the edge that is captured next */

INTERRUPT(timer_overflow)
{
	overflows++;
	OVERFLOW_DONE();
}

INTERRUPT(timer_capture)
{
	uint16_t count = TIMER_CAPTURE;
	put(stamp(count), count, rising);
	rising = !rising;
	CAPTURE_EDGE(rising);
	CAPTURE_DONE(); /* choosing the edge may have set the flag */
	/* The pin must now be as the edge left it. If it is not, the next edge came before it could be chosen. */
	if (PIN_LEVEL() == rising) {
		missing = 1;
		rising = !rising;
		CAPTURE_EDGE(rising);
		CAPTURE_DONE();
	}
}

int main(void)
{
	INTERRUPTS_OFF();
	rising = !PIN_LEVEL();
	CAPTURE_EDGE(rising);
	CAPTURE_DONE();
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
