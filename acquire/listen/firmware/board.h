/* What the examples need of a microcontroller, by what it does. Fill these in from your device's manual; any
 * 8-bit or 32-bit part with a free-running 16-bit timer will do. A wider timer can be used as it is: keep its
 * low 16 bits here.
 *
 * The timer must count 2^TICK_SHIFT ticks a microsecond, run on past its end to 0, and never be written to. */
#ifndef BOARD_H
#define BOARD_H

#include <stdint.h>

#ifndef TICK_SHIFT
#define TICK_SHIFT 1 /* 2 ticks a microsecond: a 16 MHz clock divided by 8 */
#endif

#ifdef HOST
#include "host/registers.h" /* plain variables, to run the examples on a desk computer */
#else
#error "fill in the registers of your device below, then delete this line"

/* The timer. */
#define TIMER_COUNT (*(volatile uint16_t *)0x0000)   /* counts up */
#define TIMER_CAPTURE (*(volatile uint16_t *)0x0000) /* count at the last edge, kept by the hardware */
#define OVERFLOW_PENDING() (0)  /* the count has passed its end and the interrupt for it has not run yet */
#define OVERFLOW_DONE() do {} while (0)
#define CAPTURE_DONE() do {} while (0) /* forget a capture that is pending */
#define CAPTURE_EDGE(rising) do { (void)(rising); } while (0) /* the edge to capture next */

/* The pin, as 0 or 1. */
#define PIN_LEVEL() (0)

/* The serial port, 8 data bits, no parity, 1 stop bit, 115200 baud or more. */
#define UART_READY() (1) /* another character may be sent */
#define UART_SEND(c) do { (void)(c); } while (0)

#define INTERRUPTS_OFF() do {} while (0)
#define INTERRUPTS_ON() do {} while (0)

/* How your compiler marks an interrupt's function; each example has one for the timer's overflow and one for
 * the edge. The overflow's must not be kept waiting for half the timer's span: 16 ms with 2 ticks a microsecond. */
#define INTERRUPT(name) void name(void)
#endif

#endif
