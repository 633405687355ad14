package open_test

import (
	"bytes"
	"fmt"
	"runtime"
	"strings"
	"testing"

	"offbeat/acquire"
	"offbeat/acquire/open"
)

// hostile are inputs of about n bytes that once took far more than their share of time or memory.
var hostile = []struct {
	name string
	text func(n int) string
}{
	{"wide preamble", func(n int) string {
		return strings.Repeat("Trigger Level,1,", n/16) + "\n" + "time (s),v (V)\n" + ramp(50, "%.3f,1.5\n", 1e-3)
	}},
	{"wide header", func(n int) string {
		return "time (s)" + strings.Repeat(",CH1 peak", n/20) + "\n" + strings.Repeat("0.001"+strings.Repeat(",1", n/20)+"\n", 4)
	}},
	{"decimal commas that can't be told", func(n int) string {
		return "a" + strings.Repeat(",b", n/20) + "\n" + ramp(4, "%.0f"+strings.Repeat(",1", n/20)+",1\n", 1)
	}},
	{"one row of samples", func(n int) string { return strings.Repeat("1,", n/2) + "1\n" }},
	{"blank lines among rows", func(n int) string {
		return "time (s),v (V)\n" + ramp(50, "%.3f,1.5\n", 1e-3) + strings.Repeat("\n", n) + "0.05,1.5\n"
	}},
	{"comments among rows", func(n int) string {
		return "time (s),v (V)\n" + ramp(50, "%.3f,1.5\n", 1e-3) + strings.Repeat("#\n", n/2) + "0.05,1.5\n"
	}},
	{"many preamble lines, each repeated", func(n int) string {
		var b strings.Builder
		for i := range 900 {
			fmt.Fprintf(&b, "Key%d,1\n", i)
		}
		b.WriteString("time (s),v (V)\n" + ramp(90, "%.3f,1.5\n", 1e-3))
		return b.String() + strings.Repeat("Key899,1\n", n/9)
	}},
	{"CR alone behind the head", func(n int) string {
		return "time (s),v (V)\n" + ramp(8000, "%.4f,1.5\n", 1e-4) + strings.ReplaceAll(ramp(n/12, "%.7f,1.5\n", 1e-7), "\n", "\r")
	}},
	{"a row again and again", func(n int) string {
		return "time (s),D0\n" + ramp(50, "%.3f,1\n", 1e-3) + strings.Repeat("0.050,0\n", n/8)
	}},
	{"times that fall back", func(n int) string {
		return "time (s),D0\n" + ramp(50, "%.3f,1\n", 1e-3) + strings.Repeat("0.090,0\n0.060,1\n", n/16)
	}},
	{"words", func(n int) string { return strings.Repeat("H 10 L 20\n", n/10) }},
	{"an array in one line", func(n int) string { return "raw[] = {" + strings.Repeat("350,", n/4) + "350}\n" }},
}

// BenchmarkGrowth reads each at two sizes, sixteen times apart: the time and the memory for a byte must not grow.
func BenchmarkGrowth(b *testing.B) {
	for _, h := range hostile {
		for _, n := range []int{1 << 18, 1 << 22} {
			text := []byte(h.text(n))
			b.Run(fmt.Sprintf("%s/%dKiB", h.name, n>>10), func(b *testing.B) {
				b.SetBytes(int64(len(text)))
				var before, after runtime.MemStats
				runtime.ReadMemStats(&before)
				for b.Loop() {
					consume(text)
				}
				runtime.ReadMemStats(&after)
				b.ReportMetric(float64(after.TotalAlloc-before.TotalAlloc)/float64(b.N)/float64(len(text)), "B/byte")
			})
		}
	}
}

func consume(text []byte) {
	s, err := open.OpenReader("x", bytes.NewReader(text), acquire.Options{})
	if err != nil {
		return
	}
	defer s.Close()
	for {
		c, err := s.Next()
		if err != nil {
			return
		}
		if drain(c) == nil {
			return
		}
	}
}
