package question

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
	"offbeat/fit/waveform"
)

// Observation is one capture of the board with what was special about it.
type Observation struct {
	Measurement *fit.Measurement
	Conditions  []fit.Condition  // none: the design's own
	Facts       []posterior.Fact // what else was read of the board
	Waveform    *waveform.Result // its capacitor's waveform in the same capture; nil: none
}

// Setting is one set of conditions with all captures taken under it, as one measurement.
type Setting struct {
	Conditions []fit.Condition
	loads      int     // the number of the set of loads that the conditions hang on the board, from 1; 0: none
	Clock      float64 // relative limit of the instrument's clock
	Captures   []*fit.Measurement
	Waves      []*waveform.Result // of those captures that show the capacitor
	Merged     *fit.Measurement
	odd        *float64 // of the datum of that name; nil: none of its waveforms counts
}

// Plain says whether the setting is the design's own, by whatever instrument.
func (s *Setting) Plain() bool {
	return !slices.ContainsFunc(s.Conditions, func(c fit.Condition) bool { return c.Kind != fit.OtherClock })
}

// otherClock says whether the setting names an instrument of its own.
func (s *Setting) otherClock() bool {
	return slices.ContainsFunc(s.Conditions, func(c fit.Condition) bool { return c.Kind == fit.OtherClock })
}

// same says whether two conditions are one thing.
func same(a, b fit.Condition) bool {
	a.Text, b.Text = "", ""
	return a == b
}

// Together says whether two captures were taken under one setting.
func Together(a, b *Observation) bool {
	return a.Measurement.Clock == b.Measurement.Clock && slices.EqualFunc(a.Conditions, b.Conditions, same)
}

// Settings sorts the observations by their conditions, in the order in which they first appear, and merges those
// of one setting. The notes say where captures of one setting disagree.
func Settings(c *circuit.Circuit, obs []Observation) (out []Setting, notes []string, err error) {
	for i := range obs {
		o := &obs[i]
		conditions, err := checked(c, o.Conditions)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", o.Measurement.Source, err)
		}
		if err := usable(c, o.Measurement); err != nil {
			return nil, nil, err
		}
		k := slices.IndexFunc(out, func(s Setting) bool {
			return s.Clock == o.Measurement.Clock && slices.EqualFunc(s.Conditions, conditions, same)
		})
		if k < 0 {
			k = len(out)
			out = append(out, Setting{Conditions: conditions, Clock: o.Measurement.Clock})
		}
		out[k].Captures = append(out[k].Captures, o.Measurement)
		if o.Waveform != nil && !o.Waveform.Inverted {
			out[k].Waves = append(out[k].Waves, o.Waveform)
		}
	}
	for k := range out {
		var note string
		out[k].Merged, note = merge(out[k].Captures, c.OnePulse)
		if note != "" {
			notes = append(notes, note)
		}
	}
	return out, notes, nil
}

// usable refuses times that no board has.
func usable(c *circuit.Circuit, m *fit.Measurement) error {
	good := func(x float64) bool { return x > 0 && !math.IsInf(x, 1) }
	if !good(m.High.Value) || !c.OnePulse && !good(m.Low.Value) {
		return fmt.Errorf("%s: no usable times (high %g s, low %g s); expected both positive: a circuit that does not run has none to compare, so see first that its output switches", m.Source, m.High.Value, m.Low.Value)
	}
	return nil
}

// checked sorts conditions by the order in which they take effect and refuses those that make no sense.
func checked(c *circuit.Circuit, conditions []fit.Condition) ([]fit.Condition, error) {
	out := slices.Clone(conditions)
	slices.SortStableFunc(out, func(a, b fit.Condition) int { return int(a.Kind - b.Kind) })
	for i, k := range out {
		_, known := c.Slot(k.Part)
		ofPart := k.Kind >= fit.Warmed && k.Kind <= fit.Bypassed
		once := k.Kind < fit.InSeries || k.Kind >= fit.HeldAt
		switch {
		case ofPart && !known:
			return nil, fmt.Errorf("%q: the %s circuit has no part %q; expected one of %s", k.Text, c.Name, k.Part, strings.Join(partNames(c), ", "))
		case k.Kind == fit.Bypassed && !c.Has(circuit.LeakRatio):
			return nil, fmt.Errorf("%q: what a resistor across %s does in the %s circuit is not known", k.Text, k.Part, c.Name)
		case k.Kind == fit.ControlAt && !c.Has(circuit.Upper):
			return nil, fmt.Errorf("%q: the %s circuit has no control pin", k.Text, c.Name)
		case k.Kind != fit.Temperature && k.Kind != fit.Warmed && k.Kind != fit.HeldAt && !(k.Known.Value > 0):
			return nil, fmt.Errorf("%q: expected a value above zero", k.Text)
		case k.Kind == fit.Fraction && k.Known.Value > 1:
			return nil, fmt.Errorf("%q: expected a fraction of at most 1", k.Text)
		case once && i > 0 && out[i-1].Kind == k.Kind && out[i-1].Part == k.Part:
			return nil, fmt.Errorf("%q and %q contradict each other; expected one of them", out[i-1].Text, k.Text)
		}
	}
	return out, nil
}

func partNames(c *circuit.Circuit) []string {
	names := make([]string, len(c.Parts))
	for i, p := range c.Parts {
		names[i] = p.Name
	}
	return names
}

var ErrNothing = errors.New("nothing measured; expected at least one capture with whole cycles")

// Own finds the captures taken under the design's own conditions; nil: none were.
func Own(set []Setting) *fit.Measurement {
	for i := range set {
		if set[i].Plain() {
			return set[i].Merged
		}
	}
	return nil
}

// Shown is the measurement that the finding's times are of.
func Shown(set []Setting) *fit.Measurement {
	if m := Own(set); m != nil {
		return m
	}
	return set[0].Merged
}

// Name says which captures a setting's are.
func (s *Setting) Name() string {
	var with []string
	for _, c := range s.Conditions {
		with = append(with, c.Text)
	}
	if len(with) == 0 {
		return "the captures without conditions"
	}
	return "the captures with " + strings.Join(with, " and ")
}

// Supply is the setting's own where a condition states it, else the design's.
func (s *Setting) Supply(design fit.Reading) fit.Reading {
	for _, c := range s.Conditions {
		if c.Kind == fit.SupplyAt {
			return c.Known
		}
	}
	return design
}

// Probe is the conductance in S that the setting's conditions put across the capacitor.
func (s *Setting) Probe() float64 {
	sum := 0.0
	for _, c := range s.Conditions {
		if c.Kind == fit.Bypassed || c.Kind == fit.ToGround {
			sum += 1 / c.Known.Value
		}
	}
	return sum
}

// Facts are those of all observations.
func Facts(obs []Observation) []posterior.Fact {
	var out []posterior.Fact
	for i := range obs {
		out = append(out, obs[i].Facts...)
	}
	return out
}

// Observed are captures with nothing special about them.
func Observed(ms []*fit.Measurement) []Observation {
	obs := make([]Observation, len(ms))
	for i, m := range ms {
		obs[i].Measurement = m
	}
	return obs
}
