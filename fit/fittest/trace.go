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

// Trace samples the steady cycle of the board at rows instants, step seconds apart, from a time late seconds after the
// output's rise: the output's voltage and the named node's, both free of noise.
func (b *Board) Trace(node string, late, step float64, rows int) (output, volts []float64, err error) {
	s, err := b.system()
	if err != nil {
		return nil, nil, err
	}
	high, low, err := s.cycle(false)
	if err != nil {
		return nil, nil, err
	}
	// The one cycle at many instants, straight lines between them.
	at, v := []float64{0}, []float64{s.at(s.y, node, false)}
	for _, isLow := range []bool{false, true} {
		begun := at[len(at)-1]
		s.most = min(high, low) / 2000
		s.seen = func(t float64) { at, v = append(at, begun+t), append(v, s.at(s.y, node, isLow)) }
		if _, err := s.half(isLow, false); err != nil {
			return nil, nil, err
		}
		at, v = append(at, at[len(at)-1]), append(v, s.at(s.y, node, !isLow)) // what the output's jump gives the node
	}
	k := 0
	for i, last := 0, 0.0; i < rows; i++ {
		t := math.Mod(late+float64(i)*step, high+low)
		if t < last {
			k = 0
		}
		last = t
		for k+2 < len(at) && at[k+1] <= t {
			k++
		}
		level := b.Low
		if t < high {
			level = b.High
		}
		output = append(output, level)
		volts = append(volts, v[k]+(v[k+1]-v[k])*(t-at[k])/max(at[k+1]-at[k], 1e-30))
	}
	return output, volts, nil
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
