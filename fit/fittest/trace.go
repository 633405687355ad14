package fittest

import (
	"errors"
	"math"
)

// Trace samples the running circuit at rows instants, step seconds apart, from a time late seconds after the output's
// rise: the output's voltage and the capacitor node's, both free of noise. It integrates the capacitor as Integrate does; with a Contact the node
// lies by that resistance's drop beside it.
// A circuit that does not oscillate about one node has no trace.
func Trace(n Network, late, step float64, rows int) (output, node []float64, err error) {
	n, err = n.withDefaults()
	if err != nil {
		return nil, nil, err
	}
	if n.Circuit == Multivibrator || n.Circuit == Monostable && n.Trigger == 0 {
		return nil, nil, errors.New("fittest: a trace needs a circuit that runs to and fro between two thresholds at one node, or a monostable with triggers")
	}
	if n.Circuit == Monostable {
		return n.tracePulses(late, step, rows)
	}
	upper, lower := n.thresholds()
	up := n.behind(half{n, "charging", n.C + n.Stray, n.charging(), upper, n.DelayFall})
	down := n.behind(half{n, "discharging", n.C + n.Stray, n.discharging(), lower, n.DelayRise})
	_, v, err := down.run(up.threshold)
	if err != nil {
		return nil, nil, err
	}
	phase, high := up, true
	begun, at := -late, -late // when the present half began, and the time that v stands for
	lasts, end, err := phase.run(v)
	if err != nil {
		return nil, nil, err
	}
	for i := range rows {
		t := float64(i) * step
		for t >= begun+lasts {
			begun, v, high = begun+lasts, end, !high
			if phase = down; high {
				phase = up
			}
			at = begun
			if lasts, end, err = phase.run(v); err != nil {
				return nil, nil, err
			}
		}
		s := solver{slope: func(v float64) float64 { return phase.current(v) / phase.farad }, tolerance: stepTolerance * n.Supply}
		if v, err = s.after(v, math.Max(t-at, 1e-15), t-at); err != nil {
			return nil, nil, err
		}
		at = t
		level := n.OutputLow
		if high {
			level = n.OutputHigh
		}
		output, node = append(output, level), append(node, v+n.Contact*phase.current(v))
	}
	return output, node, nil
}

// tracePulses is Trace for a monostable, a pulse a trigger.
func (n Network) tracePulses(late, step float64, rows int) (output, node []float64, err error) {
	upper, _ := n.thresholds()
	up := half{n, "charging", n.C + n.Stray, n.charging(), upper, n.DelayFall}
	rest := n.resting()
	high, _, err := up.run(rest)
	if err != nil {
		return nil, nil, err
	}
	s := solver{slope: func(v float64) float64 { return up.current(v) / n.C }, tolerance: stepTolerance * n.Supply}
	for i := range rows {
		level, v := n.OutputLow, rest
		if t := math.Mod(late+float64(i)*step, n.Trigger); t < high {
			level = n.OutputHigh
			if v, err = s.after(rest, math.Max(t, 1e-15)/10, t); err != nil {
				return nil, nil, err
			}
		}
		output, node = append(output, level), append(node, v)
	}
	return output, node, nil
}
