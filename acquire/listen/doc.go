// Package listen hears what a board prints, on a serial port or on standard input, and keeps it.
//
//  1. Port is all that is asked of a serial port; OpenPort makes one, and says by a Code why it could not.
//  2. Link holds a port open: when it vanishes, Link waits until it is back.
//  3. Session joins what is heard, the marks a user sets and the notes about the port into one stream of
//     bytes. The same bytes go to the disk as they arrive and to the reader of lines, so a saved log gives
//     the same captures again.
//  4. Simulate prints the bytes that a board would.
//
// The lines themselves, and what can go wrong with them, are read by open.Stream.
package listen
