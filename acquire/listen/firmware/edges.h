/* Edges on their way from the interrupt to the serial port: a queue, and the printing of "time,level" lines. */
#ifndef EDGES_H
#define EDGES_H

#include "board.h"

#define QUEUE 64 /* a power of two */

struct edge {
	uint32_t over; /* times that the timer had run over */
	uint16_t count;
	uint8_t level; /* after the edge */
	uint8_t missed; /* edges are missing before this one */
};

static volatile struct edge queue[QUEUE];
static volatile uint8_t queue_in, queue_out;
static volatile uint32_t overflows;
static uint8_t missing; /* edges were missed since the last one that was put into the queue */

/* stamp is how often the timer had run over when it showed count. An overflow whose interrupt has not run yet
 * came before the edge if the count is small, and after it if the count is large. */
static uint32_t stamp(uint16_t count)
{
	uint32_t over = overflows;
	if (OVERFLOW_PENDING() && count < 0x8000)
		over++;
	return over;
}

/* put is called by the edge's interrupt. When the queue is full the edge is lost, and the next one says so. */
static void put(uint32_t over, uint16_t count, uint8_t level)
{
	uint8_t next = (uint8_t)((queue_in + 1) & (QUEUE - 1));
	if (next == queue_out) {
		missing = 1;
		return;
	}
	queue[queue_in].over = over;
	queue[queue_in].count = count;
	queue[queue_in].level = level;
	queue[queue_in].missed = missing;
	missing = 0;
	queue_in = next;
}

static void print(const char *text)
{
	for (; *text; text++) {
		while (!UART_READY())
			;
		UART_SEND(*text);
	}
}

static void print_number(uint32_t n)
{
	char digits[11];
	uint8_t i = 10;
	digits[10] = 0;
	do {
		digits[--i] = (char)('0' + n % 10);
		n /= 10;
	} while (n);
	print(digits + i);
}

/* print_edges prints what is waiting. The time in microseconds is kept to 32 bits: it begins anew at 2^32, after
 * 71.6 minutes, which the listener undoes. It must be that power of two and no other: so shift, never divide
 * a counter that has itself run over. */
static void print_edges(void)
{
	while (queue_out != queue_in) {
		uint32_t over = queue[queue_out].over;
		uint16_t count = queue[queue_out].count;
		if (queue[queue_out].missed)
			print("! edges were missed here\n");
		print_number((over << (16 - TICK_SHIFT)) | (uint32_t)(count >> TICK_SHIFT));
		print(queue[queue_out].level ? ",1\n" : ",0\n");
		queue_out = (uint8_t)((queue_out + 1) & (QUEUE - 1));
	}
}

static void greet(void) { print("offbeat edge timer, time_us,level\n"); }

#endif
