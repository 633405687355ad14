package scan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// benchTexts are made in memory: the forms of table that the project's speed is stated for.
var benchTexts = []struct {
	name   string
	layout Layout
	row    func(r *rand.Rand, i int) string
}{
	{"wave", layouts[0], func(r *rand.Rand, i int) string {
		return fmt.Sprintf("%.7e,%.6e\n", -99+float64(i)*2e-6, noisy(r, i))
	}},
	{"decimals", layouts[0], func(r *rand.Rand, i int) string {
		return fmt.Sprintf("%.10f,%.4f\n", -3e-4+float64(i)*2e-9, noisy(r, i))
	}},
	{"millivolts", layouts[0], func(r *rand.Rand, i int) string {
		return fmt.Sprintf("%.9f,%.0f\n", -0.1+float64(i)*2e-6, noisy(r, i)*1e3)
	}},
	{"logic", layouts[0], func(r *rand.Rand, i int) string { return fmt.Sprintf("%d,%d\n", 5_000_000+i, i/2000%2) }},
	{"transitions", layouts[0], func(r *rand.Rand, i int) string {
		return fmt.Sprintf("%.9f,%d\n", 12345+float64(i)*3.5e-3+1e-6*r.NormFloat64(), i%2)
	}},
	{"three columns", layouts[3], func(r *rand.Rand, i int) string {
		return fmt.Sprintf("%.6f\t%.4f\t%.4f\n", float64(i)*1e-6, noisy(r, i), noisy(r, i+700))
	}},
	{"wide", wide(',', 5, 1), func(r *rand.Rand, i int) string {
		return fmt.Sprintf("%.7f,%.4g,%.5g,%.3f,%.4f\n", float64(i)*1e-5, noisy(r, i), 12*r.Float64()-6, 100*r.Float64(), r.Float64())
	}},
	{"wide, shortest digits", wide(';', 4, 1), func(r *rand.Rand, i int) string {
		return fmt.Sprintf("%v;%v;%v;%d\n", math.Round(float64(i)*100)/1e7, math.Round(noisy(r, i)*1e4)/1e4, math.Round(9e3*r.Float64())/1e3, r.IntN(8000)-4000)
	}},
	{"wide, exponents", wide(',', 4, 2), func(r *rand.Rand, i int) string {
		return fmt.Sprintf("%.6e,%.3e,%.3e,%.3e\n", float64(i)*1e-5, 9*r.Float64(), noisy(r, i), 1e-3*r.Float64()-5e-4)
	}},
	{"wide, last", wide('\t', 4, 3), func(r *rand.Rand, i int) string {
		return fmt.Sprintf("%.6f\t%.4f\t%.4f\t%.4f\n", float64(i)*1e-5-3, 9*r.Float64(), 1e-3*r.Float64()-5e-4, noisy(r, i))
	}},
	{"wide, padded", wide(',', 4, 1), func(r *rand.Rand, i int) string {
		return fmt.Sprintf("%12.6f,%9.4f,%9.4f,%9.4f\n", float64(i)*1e-5-3, noisy(r, i), 9*r.Float64(), r.Float64())
	}},
	{"wide, quoted", wide(',', 4, 1), func(r *rand.Rand, i int) string {
		return fmt.Sprintf("\"%.6f\",\"%.4f\",\"%.4f\",\"%.4f\"\r\n", float64(i)*1e-5-3, noisy(r, i), 9*r.Float64(), r.Float64())
	}},
	{"wide, logic", wide(',', 9, 1), func(r *rand.Rand, i int) string {
		return fmt.Sprintf("%d,%d,%d,%d,%d,%d,%d,%d,%d\n", i*10, i/2000%2, r.IntN(2), r.IntN(2), r.IntN(2), r.IntN(2), r.IntN(2), r.IntN(2), r.IntN(2))
	}},
	{"counts", layouts[4], func(r *rand.Rand, i int) string { return fmt.Sprintf("%.0f\n", noisy(r, i)*40) }},
}

// wide is a layout of cells, the first the time, of which one is wanted besides.
func wide(delim byte, cells, value int) Layout {
	return Layout{Delim: delim, Point: '.', Join: -1, Cells: cells, Time: 0, Value: []int{value}, Shift: []int{0}}
}

// noisy is a square wave of 0.1 and 4.9 V with 0.1 V of noise, in steps of 2.44 mV.
func noisy(r *rand.Rand, i int) float64 {
	v := 0.1 + 4.8*float64(i/2000%2) + 0.1*r.NormFloat64()
	return math.Round(v/2.44140625e-3) * 2.44140625e-3
}

func BenchmarkParse(b *testing.B) {
	for _, c := range benchTexts {
		b.Run(c.name, func(b *testing.B) {
			r := rand.New(rand.NewPCG(1, 2))
			var s strings.Builder
			for i := 0; s.Len() < 256<<10; i++ {
				s.WriteString(c.row(r, i))
			}
			text, end := pad(s.String())
			var rows Rows
			c.layout.Parse(text, end, &rows)
			if len(rows.Odd) > 0 {
				b.Fatal("odd lines", rows.Odd[0])
			}
			b.SetBytes(int64(end))
			b.ReportAllocs()
			for b.Loop() {
				c.layout.Parse(text, end, &rows)
			}
			b.ReportMetric(float64(rows.N)*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mrows/s")
		})
	}
}
