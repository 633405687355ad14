// Package acquire turns the bytes that a bench instrument exported into captures: rows of time and
// level with their units settled. It knows no circuit.
//
//  1. Open takes a file, or standard input, and undoes how it is stored: gzip, UTF-16, byte-order marks, CR alone.
//  2. The head, the first thousand lines, is cut into cells; the delimiter and the decimal mark are those that give
//     the longest run of rows. From what stands above the rows come names, units, interval.
//  3. The shapes are asked in turn whether they fit (recognise.go has the list, each shape its own file). They weigh
//     structure alone, and draw up a plan: where the time and the levels lie, in what unit, on what grid.
//  4. Workers cut the stream into chunks of whole lines and parse them side by side (package scan); the chunks are
//     handed on in order. Shapes whose rows hang on the lines before them are read line by line instead.
//  5. Source.Next steps through the records: a time that falls back, a gap in an even column, a repeated header or a
//     row that can't be read begins a new one, so that no pulse is made across it. Each is one Capture.
//  6. Capture.Read hands out Blocks of rows in one pass and bounded memory. What only the whole record can tell, the
//     mean interval above all, is settled when it returns io.EOF.
//
// Every line is counted once, see Counts. Every failure that has a place in the input is an *Error with file, line
// and column; columns count bytes of the text as UTF-8.
package acquire
