/* Runs an example on a desk computer. Standard input holds one edge a line: the timer tick at which it comes, the
 * level after it, the ticks by which its interrupt is late (or -1: the processor is busy, and no interrupt runs
 * before the next edge), 1 if an overflow on the way to it is kept waiting, else 0, and 1 if the main loop gets no
 * turn after it, else 0. The timer, its overflow and its capture are played here as the hardware does them;
 * what the example sends goes to standard output. */
#include <inttypes.h>
#include <stdio.h>

#include "registers.h"

uint16_t host_count, host_capture;
uint8_t host_overflow, host_captured, host_edge, host_pin;

void timer_overflow(void);
#ifdef PIN_CHANGE
void pin_change(void);
#else
void timer_capture(void);
#endif

static uint64_t now;
static uint8_t changed; /* the pin, and its interrupt has not run yet */

void host_send(char c) { putchar(c); }

enum { NO_INTERRUPT, ALL_BUT_THE_LAST, EVERY_INTERRUPT };

/* run moves the time on, with the overflow's interrupt at once when it may run. */
static void run(uint64_t to, int interrupts)
{
	uint64_t over = (to >> 16) - (now >> 16);
	now = to;
	host_count = (uint16_t)now;
	while (over--) {
		host_overflow = 1;
		if (interrupts == EVERY_INTERRUPT || (interrupts == ALL_BUT_THE_LAST && over > 0))
			timer_overflow();
	}
}

/* serve runs what is pending, the edge before the overflow: the order that needs care. */
static void serve(void)
{
#ifdef PIN_CHANGE
	if (changed) {
		changed = 0;
		pin_change();
	}
#else
	if (host_captured)
		timer_capture();
#endif
	if (host_overflow)
		timer_overflow();
}

/* play plays an edge. */
static void play(uint64_t at, int level, int late, int waits)
{
	run(at, changed || host_captured ? NO_INTERRUPT : waits ? ALL_BUT_THE_LAST : EVERY_INTERRUPT);
	if (level != host_pin) {
		host_pin = (uint8_t)level;
#ifdef PIN_CHANGE
		changed = 1;
#else
		if (host_edge == host_pin) {
			host_capture = host_count;
			host_captured = 1;
		}
#endif
	}
	if (late < 0)
		return;
	run(now + (uint64_t)late, NO_INTERRUPT);
	serve();
}

/* host_step plays edges until the main loop has its turn; 0 when there are none left. */
int host_step(void)
{
	uint64_t at;
	int level, late, waits, busy;
	do {
		if (scanf("%" SCNu64 " %d %d %d %d", &at, &level, &late, &waits, &busy) != 5)
			return 0;
		play(at, level, late, waits);
	} while (busy);
	return 1;
}
