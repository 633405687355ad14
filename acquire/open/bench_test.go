package open_test

import (
	"bytes"
	"io"
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
		{"logic", acquiretest.IndexLogic, acquiretest.Form{Step: 1e-6}},
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
				s, err := open.OpenReader(c.name, bytes.NewReader(text.Bytes()), acquire.Options{})
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
