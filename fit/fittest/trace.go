package fittest

import (
	"errors"
	"math"
)

// tracePoints is at how many instants of its shorter half a cycle is followed for a trace, straight lines between them.
const tracePoints = 2000

// Trace samples the running circuit at rows instants, step seconds apart, from a time late seconds after the output's
// rise: the output's voltage and the capacitor node's, both free of noise. A monostable gives a pulse a trigger, and its
// switch empties the capacitor at once. A circuit that does not oscillate about one node has no trace.
func Trace(n Network, late, step float64, rows int) (output, node []float64, err error) {
	n, err = n.withDefaults()
	switch {
	case err != nil:
		return nil, nil, err
	case n.Circuit == Multivibrator || n.Circuit == Monostable && n.Trigger == 0:
		return nil, nil, errors.New("fittest: a trace needs a circuit that runs to and fro between two thresholds at one node, or a monostable with triggers")
	case n.Circuit != Monostable:
		return n.board().Trace("node", late, step, rows)
	}
	b := n.board()
	high, err := b.Pulse()
	if err != nil {
		return nil, nil, err
	}
	s, err := b.system()
	if err != nil {
		return nil, nil, err
	}
	s.power(true)
	if err := s.rest(); err != nil {
		return nil, nil, err
	}
	t := &trace{s: s, node: "node"}
	rest := s.at(s.y, "node", false)
	if err := t.follow(false, high); err != nil {
		return nil, nil, err
	}
	t.mark(high, rest)
	t.mark(n.Trigger, rest)
	output, node = t.sample(high, n.Trigger, late, step, rows)
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
	t := &trace{s: s, node: node}
	for _, isLow := range []bool{false, true} {
		if err := t.follow(isLow, min(high, low)); err != nil {
			return nil, nil, err
		}
	}
	output, volts = t.sample(high, high+low, late, step, rows)
	return output, volts, nil
}

// trace is a cycle of a node's voltage.
type trace struct {
	s     *system
	node  string
	at, v []float64 // s, V
}

func (t *trace) mark(at, v float64) { t.at, t.v = append(t.at, at), append(t.v, v) }

// follow runs one state of the device, in steps that are short against a time.
func (t *trace) follow(low bool, against float64) error {
	begun := 0.0
	if n := len(t.at); n > 0 {
		begun = t.at[n-1]
	}
	t.mark(begun, t.s.at(t.s.y, t.node, low)) // what the output's jump gives the node
	t.s.most = 2 * against / tracePoints      // a step tells its middle too
	t.s.seen = func(at float64) { t.mark(begun+at, t.s.at(t.s.y, t.node, low)) }
	_, err := t.s.half(low, false)
	return err
}

// sample looks at the cycle at rows instants; the output is high at its beginning.
func (t *trace) sample(high, period, late, step float64, rows int) (output, volts []float64) {
	k := 0
	for i, last := 0, 0.0; i < rows; i++ {
		at := math.Mod(late+float64(i)*step, period)
		if at < last {
			k = 0
		}
		last = at
		for k+2 < len(t.at) && t.at[k+1] <= at {
			k++
		}
		level := t.s.b.Low
		if at < high {
			level = t.s.b.High
		}
		output = append(output, level)
		volts = append(volts, t.v[k]+(t.v[k+1]-t.v[k])*(at-t.at[k])/max(t.at[k+1]-t.at[k], 1e-30))
	}
	return output, volts
}
