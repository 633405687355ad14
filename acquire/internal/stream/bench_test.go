package stream

import (
	"bytes"
	"fmt"
	"testing"
)

// BenchmarkReader reads a saved log of edges of a 138 Hz lamp timer.
func BenchmarkReader(b *testing.B) {
	var log bytes.Buffer
	now := uint32(0)
	for i := range 200_000 {
		now += uint32(3230 + 780*(i&1))
		fmt.Fprintf(&log, "%d,%d\n", now, i&1)
	}
	b.SetBytes(int64(log.Len()))
	b.ReportAllocs()
	for b.Loop() {
		r, err := NewReader(bytes.NewReader(log.Bytes()), Options{})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := r.Next(); err != nil {
			b.Fatal(err)
		}
		var rows Rows
		n := 0
		for r.Read(&rows) == nil {
			n += rows.Len()
		}
		if n != 200_000 {
			b.Fatalf("%d rows", n)
		}
	}
	b.ReportMetric(200_000*float64(b.N)/b.Elapsed().Seconds(), "lines/s")
}
