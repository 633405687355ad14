package measure_test

import (
	"io"
	"math/rand/v2"
	"testing"

	"offbeat/acquire"
	"offbeat/fit/measure"
	"offbeat/fit/measure/measuretest"
)

// benchmark measures one capture again and again; making it is not counted.
func benchmark(b *testing.B, w measuretest.Wave) {
	var blocks []acquire.Block
	c := w.Capture(rand.New(rand.NewPCG(1, 1)))
	rows := 0
	for {
		var k acquire.Block
		if c.Read(&k) == io.EOF {
			break
		}
		blocks = append(blocks, k)
		rows += k.N
	}
	b.ResetTimer()
	for b.Loop() {
		i := 0
		again := acquire.NewCapture(acquire.Capture{Source: "bench", Kind: w.Kind, Step: w.Step}, func(k *acquire.Block) error {
			if i == len(blocks) {
				return io.EOF
			}
			*k = blocks[i]
			i++
			return nil
		})
		if _, err := measure.Run(again, measure.Options{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(rows)*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mrows/s")
}

func BenchmarkRunShort(b *testing.B) { // a scope's screen: 6 cycles in 2500 samples
	benchmark(b, measuretest.Wave{High: 230.3, Low: 180.1, Cycles: 6.1, Step: 1, Noise: 0.05, Code: 1.0 / 32, Phase: 55})
}

func BenchmarkRunMiddle(b *testing.B) { // 300 cycles
	benchmark(b, measuretest.Wave{High: 230.3, Low: 180.1, Cycles: 300.1, Step: 1, Noise: 0.05, Code: 1.0 / 32, White: 0.02, Phase: 55})
}

func BenchmarkRunSteady(b *testing.B) { // 1000 cycles without noise
	benchmark(b, measuretest.Wave{Kind: acquire.Logic, High: 230.3, Low: 180.1, Cycles: 1000.1, Step: 1, Phase: 55})
}

func BenchmarkRunSamples(b *testing.B) { // ten million samples, 2778 cycles
	benchmark(b, measuretest.Wave{High: 1975.3, Low: 1628.9, Cycles: 2774.6, Step: 1, Rise: 15, Fall: 15, Noise: 0.1, White: 1, Phase: 55})
}

func BenchmarkRunLogic(b *testing.B) {
	benchmark(b, measuretest.Wave{Kind: acquire.Logic, High: 1975.3, Low: 1628.9, Cycles: 2774.6, Step: 1, White: 1, Phase: 55})
}

func BenchmarkRunTransitions(b *testing.B) { // five million edges
	benchmark(b, measuretest.Wave{Kind: acquire.Transitions, High: 1975.3, Low: 1628.9, Cycles: 2.5e6, Step: 0.01, White: 1, Phase: 55})
}
