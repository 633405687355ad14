// Package acquire holds the types at the seam between what a bench wrote and what is made of it: a Capture is one record of
// rows of time and level with their units settled. It knows no circuit, and imports none of its sub-packages, which do the
// work:
//
//  1. open takes a file, or standard input, and undoes how it is stored: gzip, UTF-16, byte-order marks, CR alone.
//  2. recognise cuts the head, the first thousand lines, into cells; the delimiter and the decimal mark are those that give
//     the longest run of rows. From what stands above the rows come names, units, interval. The shapes are asked in turn
//     whether they fit, each its own file; they weigh structure alone, and draw up a plan: where the time and the levels
//     lie, in what unit, on what grid. A plan does not change once it is made.
//  3. read follows the plan: workers parse chunks of lines side by side (internal/scan); a time that falls back, a gap in an
//     even column, a repeated header or a row that can't be read begins a new record, so that no pulse is made across it.
//  4. Capture.Read hands out Blocks of rows in one pass and bounded memory. What only the whole record can tell, the
//     mean interval above all, is settled when it returns io.EOF.
//
// A serial stream has a reader of its own (internal/stream), heard by listen, or saved and opened like any file.
//
// Every line is counted once, see Counts. Every failure that has a place in the input is an *Error with file, line
// and column; columns count bytes of the text as UTF-8.
package acquire
