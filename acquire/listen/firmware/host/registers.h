/* The registers as plain variables, and a run of the examples on a desk computer: see host.c. */
#ifndef REGISTERS_H
#define REGISTERS_H

#include <stdint.h>

extern uint16_t host_count, host_capture;
extern uint8_t host_overflow, host_captured, host_edge, host_pin;
int host_step(void);
void host_send(char c);

#define TIMER_COUNT host_count
#define TIMER_CAPTURE host_capture
#define OVERFLOW_PENDING() host_overflow
#define OVERFLOW_DONE() (host_overflow = 0)
#define CAPTURE_DONE() (host_captured = 0)
#define CAPTURE_EDGE(rising) (host_edge = (rising))
#define PIN_LEVEL() host_pin
#define UART_READY() (1)
#define UART_SEND(c) host_send(c)
#define INTERRUPTS_OFF() ((void)0)
#define INTERRUPTS_ON() ((void)0)
#define INTERRUPT(name) void name(void)

#endif
