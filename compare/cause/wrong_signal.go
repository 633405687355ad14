package cause

import (
	"fmt"
	"math"

	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
)

// The ways in which a capture is not of the output as it is, with their shares of the odds (common practice: a reversed
// polarity or an active-low buffer is the commonest).
const (
	invertedShare = 0.4
	nodeShare     = 0.3
	aliasShare    = 0.3
)

// WrongSignal is the name of the cause that says the capture is not of the output as it is.
const WrongSignal = "wrong signal"

// wrongSignal: the board is sound and the capture is not of its output: inverted; of the capacitor's node, whose edges are
// taken midway between its ends; or sampled below two samples a pulse, so that the frequency folds about a multiple of
// the sample rate while the duty factor stays.
var wrongSignal = Cause{
	Name:    WrongSignal,
	Key:     "wrong_signal",
	Passing: true,
	Blind:   true,
	Odds:    []Row{{"", 0.02, 0.02, "a probe on the wrong pin, a reversed polarity, a sample rate left as it was (common practice)"}},
	Shows: []Show{
		{"probe", "", 0.7, "the pin and the polarity can be seen, a sample rate can not (common practice)"},
	},
	Words: Words{
		Kind:    "wrong signal",
		Title:   "wrong signal captured",
		Detail:  wrongSignalDetail,
		Do:      wrongSignalDo,
		Curve:   "wrong signal",
		Lot:     "the captures are not of the output",
		Retune:  "the likeliest cause is that the capture is not of the output: capture it again before any part is changed",
		Repair:  "Capture the output of the circuit itself",
		Form:    "every part in tolerance, and the capture inverted (0.4 of the odds), of the capacitor's node (0.3; half of that through a 10 MΩ probe where that counts), or sampled below two samples a pulse (0.3)",
		Meaning: "The board may be sound and the capture wrong: inverted, of the capacitor's node instead of the output, or sampled so slowly that another frequency shows in place of the true one.",
		Also:    []string{"inverted", "aliased"},
	},
	Cases: func(b *Board) []Case {
		if b.Waveform {
			return nil
		}
		if step := b.Design.Coarse(); step > 0 {
			all := b.seen(1, aliased+1/step, func(_ *circuit.Values, high, low float64) (float64, float64, bool) {
				return 0, 0, b.shorter(high, low) < 2*step
			})
			all.Preset = 1 // even a sound board can't show otherwise
			return []Case{all}
		}
		if b.Circuit.OnePulse {
			return nil
		}
		turned := inverted
		if b.Inverted {
			turned = upright
		}
		out := []Case{b.seen(invertedShare, float64(turned), func(_ *circuit.Values, high, low float64) (float64, float64, bool) { return low, high, true })}
		out = append(out, b.nodes()...)
		folds, blind := b.aliases()
		if !blind {
			out = append(out, folds...)
		}
		sum := 0.0
		for i := range out {
			sum += out[i].Share
		}
		for i := range out {
			out[i].Share /= sum
		}
		if blind {
			for i := range folds {
				folds[i].Preset, folds[i].Share = 1, 1/float64(len(folds))
			}
			out = append(out, folds...)
		}
		return out
	},
}

// nodes are the captures of the capacitor's node, through a probe that draws next to nothing and through the usual one, which
// is a leak of its own as long as it is there.
func (b *Board) nodes() []Case {
	if b.Circuit.Curve == nil || b.Circuit.Bends {
		return nil
	}
	out := []Case{b.seen(nodeShare, ofTheNode, b.midway)}
	if v, err := b.Circuit.Typical(b.Design); err == nil {
		if k := probe / b.Circuit.Charging(&v); k > leastLeak && k < mostLeak && b.Circuit.Has(circuit.LeakRatio) {
			loaded := b.seen(nodeShare/2, ofTheNode, b.midway)
			loaded.Fixed = []posterior.Fixed{{Slot: circuit.LeakRatio, Value: k}}
			out[0].Share /= 2
			out = append(out, loaded)
		}
	}
	for i := range out {
		if b.Ramps {
			out[i].LogFactor = math.Log(rampsOdds)
		}
	}
	return out
}

// rampsOdds is how much oftener the capacitor's node than an output dwells at no two levels: an output does so where it is
// loaded or sampled too coarsely (common practice).
const rampsOdds = 100

// What the first parameter of a wrong signal says; from aliased on it is the sample rate, Hz.
const (
	upright   = 0 // it was turned as it was read, and should not be
	inverted  = 1
	ofTheNode = 2
	aliased   = 3
)

// seen is a sound board shown in another way.
func (b *Board) seen(share, kind float64, see func(v *circuit.Values, high, low float64) (float64, float64, bool)) Case {
	return Case{
		Share:      share,
		Hypothesis: posterior.Hypothesis{Prior: b.Loose(), See: see},
		Parameters: []*Parameter{{"kind", "1", 0, func(*circuit.Values) float64 { return kind }}, {"rate that would do", "1", 0, func(*circuit.Values) float64 { return b.rate() }}},
	}
}

// wanted is how many samples a pulse tell a board's times well (common practice).
const wanted = 10

// rate is Rate of the design's shorter half-cycle; 0: it does not run.
func (b *Board) rate() float64 {
	v, err := b.Circuit.Typical(b.Design)
	high, low, ok := b.Circuit.Times(&v)
	if err != nil || !ok {
		return 0
	}
	return Rate(b.shorter(high, low))
}

// Rate is how many samples a second tell a pulse of that many seconds well, two digits rounded up.
func Rate(pulse float64) float64 {
	r := wanted / pulse
	digit := math.Pow(10, math.Floor(math.Log10(r))-1)
	return math.Ceil(r/digit) * digit
}

// shorter is the shorter of the times, or the pulse where that alone is timed.
func (b *Board) shorter(high, low float64) float64 {
	if b.Circuit.OnePulse {
		return high
	}
	return min(high, low)
}

// midway are the times that the capacitor's own voltage spends above and below the middle of its swing.
func (b *Board) midway(v *circuit.Values, _, _ float64) (high, low float64, ok bool) {
	k := b.Circuit.Curve(v)
	middle := (k.Peak + k.Valley) / 2
	run := func(r circuit.Run, from, to float64) float64 { return r.Tau * math.Log((r.Target-from)/(r.Target-to)) }
	high = run(k.Charge, middle, k.Peak) + run(k.Discharge, k.Peak, middle)
	low = run(k.Discharge, middle, k.Valley) + run(k.Charge, k.Valley, middle)
	return high, low, high > 0 && low > 0
}

// aliases are the captures whose samples lie too far apart for the design: the true frequency lies near k times the sample
// rate, and what shows is its distance from that. With less than one sample a pulse even a sound board can't show otherwise:
// then they are as likely as nothing wrong, and no share of the cause's odds.
func (b *Board) aliases() (folds []Case, blind bool) {
	v, err := b.Circuit.Typical(b.Design)
	if err != nil || b.Interval == 0 {
		return nil, false
	}
	high, low, ok := b.Circuit.Times(&v)
	if !ok || min(high, low) > 2*b.Interval*aliasMargin {
		return nil, false
	}
	turns := b.Interval / (high + low) // cycles a sample
	var out []Case
	for k := max(1, math.Floor(turns/aliasMargin)); k <= math.Ceil(turns*aliasMargin) && len(out) < mostAliases; k++ {
		for _, side := range []float64{-1, 1} { // slower or faster than k cycles a sample
			out = append(out, b.seen(0, aliased+1/b.Interval, func(_ *circuit.Values, high, low float64) (float64, float64, bool) {
				period := high + low
				off := side * (b.Interval/period - k) // cycles a sample that show
				if !(off > 0 && off < 0.5) {
					return 0, 0, false
				}
				shown := b.Interval / off
				return high / period * shown, low / period * shown, true
			}))
		}
	}
	for i := range out {
		out[i].Share = aliasShare / float64(len(out))
	}
	return out, min(high, low) < b.Interval
}

// Aliased is the interval between samples where it may show another frequency than the board's; 0: it can not.
func (b *Board) Aliased() float64 {
	if folds, _ := b.aliases(); len(folds) == 0 {
		return 0
	}
	return b.Interval
}

// aliasMargin is by how much a sound board may be faster or slower than nominal, and mostAliases bounds the folds tried.
const (
	aliasMargin = 1.5
	mostAliases = 8
)

// wrongSignalDo is the capture to take instead, and how to tell.
func wrongSignalDo(s *Said) (reading, enter string) {
	switch kind := s.Values[0]; {
	case kind == upright:
		return "read the same capture without --invert", ""
	case kind == inverted:
		return "read the same capture with its polarity turned", "--invert"
	case kind == ofTheNode:
		return "capture the output in place of the capacitor's node", "NEW.csv"
	default:
		return "capture the output at " + perSecond(s.Values[1]) + " samples a second or more", "NEW.csv"
	}
}

func wrongSignalDetail(s *Said) string {
	switch kind := s.Values[0]; {
	case s.Brief && kind == ofTheNode:
		return "the capacitor's node: probe the output, or name its channel with --channel out=NAME"
	case s.Brief && kind > ofTheNode:
		return "sampled too slowly: take " + perSecond(s.Values[1]) + " samples a second or more"
	case kind == upright:
		return "it was turned and should not be: take --invert away"
	case kind == inverted:
		return "the output is inverted: add --invert"
	case kind == ofTheNode:
		return "it is the capacitor's node and not the output: probe the output, or name its channel with --channel out=NAME"
	default:
		return perSecond(kind-aliased) + " samples a second are below two a pulse, so that another frequency shows, or none: sample at " + perSecond(s.Values[1]) + " a second or more"
	}
}

// perSecond writes a rate without a power of ten.
func perSecond(rate float64) string {
	if rate < 1e4 {
		return Format(rate, "1")
	}
	return fmt.Sprintf("%.0f", rate)
}
