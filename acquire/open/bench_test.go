package open_test

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/acquiretest"
	"offbeat/acquire/open"
)

// BenchmarkRead reads whole sources from memory: recognition, parsing on all cores, records.
func BenchmarkRead(b *testing.B) {
	sig := acquiretest.Astable(3.95e-3, 3.26e-3, 100)
	for _, c := range []struct {
		name  string
		write func(io.Writer, acquiretest.Signal, acquiretest.Form) error
		form  acquiretest.Form
	}{
		{"wave", acquiretest.TimeVolt, acquiretest.Form{Step: 2e-6, Time: "%.7e", Level: "%.6e"}},
		{"wide", wideTable, acquiretest.Form{Step: 1e-5}},
		{"logic", open.IndexLogic, acquiretest.Form{Step: 1e-6}},
		{"head only", acquiretest.TimeVolt, acquiretest.Form{Step: 1e-3, Time: "%.7e", Level: "%.6e"}},
	} {
		b.Run(c.name, func(b *testing.B) {
			var text bytes.Buffer
			if err := c.write(&text, sig, c.form); err != nil {
				b.Fatal(err)
			}
			b.SetBytes(int64(text.Len()))
			b.ReportAllocs()
			rows := int64(0)
			for b.Loop() {
				s, err := open.OpenReader(c.name, bytes.NewReader(text.Bytes()), acquire.Options{Channels: []string{"1"}})
				if err != nil {
					b.Fatal(err)
				}
				capture, err := s.Next()
				if err != nil {
					b.Fatal(err)
				}
				if err := drain(capture); err != io.EOF {
					b.Fatal(err)
				}
				rows += capture.Rows
				s.Close()
			}
			b.ReportMetric(float64(rows)/b.Elapsed().Seconds()/1e6, "Mrows/s")
		})
	}
}

// wideTable writes four channels, each number with as many digits as it needs.
func wideTable(w io.Writer, sig acquiretest.Signal, f acquiretest.Form) error {
	r := rand.New(rand.NewPCG(1, 2))
	b := bufio.NewWriter(w)
	fmt.Fprintln(b, "Time (s),CH1 (V),CH2 (V),CH3 (V),CH4 (V)")
	for i := range 260_000 { // as many bytes as of the wave
		t := float64(i) * f.Step
		fmt.Fprintf(b, "%.7f,%.4g,%.5g,%.3f,%.4f\n", t, 4.8*math.Floor(math.Mod(t, 7e-3)/4e-3)+0.1*r.NormFloat64(), 12*r.Float64()-6, 100*r.Float64(), r.Float64())
	}
	return b.Flush()
}
