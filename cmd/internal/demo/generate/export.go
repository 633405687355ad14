package main

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
)

// scope exports the output's voltage.
func scope(interval float64) func(trace) string { return sampled(interval, false) }

// scopeOfTwo exports the output's voltage and the capacitor's.
func scopeOfTwo(interval float64) func(trace) string { return sampled(interval, true) }

// sampled exports voltages with a preamble: eight bits over ten divisions of 0.5 V, a little noise, an output that
// takes 150 ns to move.
func sampled(interval float64, two bool) func(trace) string {
	return func(t trace) string {
		const (
			bit   = 5.0 / 250
			noise = 0.015 // V, standard deviation
			slew  = 150e-9
		)
		rng := rand.New(rand.NewPCG(t.seed, 1))
		n := int(t.end / interval)
		offset := interval * rng.Float64() // the sampling is not in step with the board
		var b strings.Builder
		fmt.Fprintf(&b, "Record Length,%d\nSample Interval,%.1e\nVertical Scale,5.00E-01\nVertical Units,V\nHorizontal Units,s\n\nTime (s),Output (V)%s\n", n-1, interval, map[bool]string{true: ",Capacitor (V)"}[two])
		e := 0
		for k := range n - 1 {
			at := float64(k)*interval + offset
			for e+1 < len(t.edges) && t.edges[e+1].at <= at {
				e++
			}
			level := t.level(t.edges[e].high)
			if since := at - t.edges[e].at; e > 0 && since < slew {
				level += (t.level(!t.edges[e].high) - level) * (1 - since/slew)
			}
			level += noise * rng.NormFloat64()
			fmt.Fprintf(&b, "%.6f,%.2f", float64(k)*interval, math.Round(level/bit)*bit)
			if two {
				fmt.Fprintf(&b, ",%.2f", math.Round((t.volt(at)+noise*rng.NormFloat64())/bit)*bit)
			}
			b.WriteByte('\n')
		}
		return b.String()
	}
}

// volt is the capacitor's voltage at an instant; within a step its path is straight.
func (t *trace) volt(at float64) float64 {
	i, _ := slices.BinarySearchFunc(t.capacitor, at, func(p point, at float64) int { return cmp.Compare(p.at, at) })
	if i == 0 || i == len(t.capacitor) {
		return t.capacitor[min(i, len(t.capacitor)-1)].volt
	}
	p, q := t.capacitor[i-1], t.capacitor[i]
	return p.volt + (q.volt-p.volt)*(at-p.at)/(q.at-p.at)
}

func (t *trace) level(high bool) float64 {
	if high {
		return t.supply - headroom
	}
	return floor
}

// transitions exports a list of changes on one line of a logic capture, times on a grid.
func transitions(grid float64) func(trace) string {
	return func(t trace) string {
		digits := int(math.Round(-math.Log10(grid)))
		var b strings.Builder
		fmt.Fprintf(&b, "Time[s],Output\n%.*f,%d\n", digits, 0.0, bit(t.edges[0].high))
		for _, e := range t.edges[1:] {
			if e.at >= t.end {
				break
			}
			fmt.Fprintf(&b, "%.*f,%d\n", digits, math.Ceil(e.at/grid)*grid, bit(e.high))
		}
		return b.String()
	}
}

func bit(high bool) int {
	if high {
		return 1
	}
	return 0
}
