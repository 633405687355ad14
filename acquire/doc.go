// Package acquire turns the bytes that a bench instrument exported into captures: rows of time and
// level with their units settled. It knows no circuit.
//
//  1. Open reads the head of a file (or standard input, gzip, UTF-16 …) and recognises its shape from
//     structure alone.
//  2. Source.Next steps through the records of the file; each is one Capture.
//  3. Capture.Read hands out Blocks of rows in one pass and bounded memory.
//
// Every failure that has a place in the input is an *Error with file, line and column.
package acquire
