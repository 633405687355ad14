package cause

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/fit/circuit"
	"offbeat/fit/posterior"
	"offbeat/fit/wiring"
)

// The ways in which a capture is not of the output as it is, with their shares of the odds (common practice: a reversed
// polarity or an active-low buffer is the commonest).
const invertedShare, nodeShare, aliasShare, foreignShare, dividedShare, slipShare = 0.2, 0.13, 0.17, 0.1, 0.07, 0.33

// WrongSignal is the name of the cause that says the capture is not of the output as it is.
const WrongSignal = "wrong signal"

// wrongSignal: the board is sound and the capture is not of its output: inverted; of the capacitor's node, whose edges are
// taken midway between its ends; sampled below two samples a pulse, so that the frequency folds about a multiple of
// the sample rate while the duty factor stays; the output of a divider behind it; nothing of it at all; or the output, in times whose
// unit is another than is said.
var wrongSignal = Cause{
	Name:    WrongSignal,
	Key:     "wrong_signal",
	Passing: true,
	Blind:   true,
	Odds:    []Row{{"", 0.03, 0.03, "a probe on the wrong pin, a reversed polarity, a sample rate left as it was, a unit that is not the one said (common practice)"}},
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
		Form:    "every part in tolerance, and the capture inverted (0.2 of the odds), of the capacitor's node (0.13; half of that through a 10 MΩ probe where that counts), sampled below two samples a pulse (0.17), of a divider by 2, 4, 8, 10 or 16 (0.07), whose two halves are equal, of something else (0.1; half of that hum at the mains or twice it), or in times that are a thousand (0.26) or a million (0.07) off, in three of ten with a fault of the board beside; of a single pulse always one of the last two; of a capture without a pulse always that nothing of the board is in it, with odds of 0.05",
		Meaning: "The board may be sound and the capture wrong: inverted, of the capacitor's node instead of the output, of a divider behind the output, of mains hum or another clock, in another unit of time than is said, sampled so slowly that another frequency shows in place of the true one, or, where it shows no pulse, of a board without supply or a probe that is not on the output.",
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
		if stills := b.Design.Stills; len(stills) > 0 && stills[0].Seen {
			kind := float64(silent)
			if stills[0].State == wiring.StandsHigh {
				kind = onRail
			}
			none := b.lying(1, kind, elsewhere...)
			none.Silent, none.Preset = true, silentOdds
			return []Case{none}
		}
		out := []Case{b.lying(foreignShare, foreign, elsewhere...)}
		if b.Circuit.OnePulse {
			return b.withSlips(out)
		}
		turned := inverted
		if b.Inverted {
			turned = upright
		}
		out = append(out, b.counted()...)
		out = append(out, b.seen(invertedShare, float64(turned), func(_ *circuit.Values, high, low float64) (float64, float64, bool) { return low, high, true }))
		out = append(out, b.nodes()...)
		folds, blind := b.aliases()
		if !blind {
			out = append(out, folds...)
		}
		out = b.withSlips(out)
		if blind {
			for i := range folds {
				folds[i].Preset, folds[i].Share = 1, 1/float64(len(folds))
			}
			out = append(out, folds...)
		}
		return out
	},
}

// withSlips adds the captures, or designs, whose unit or prefix is not the one said, to cases that share the odds with them: a thousand off
// is commoner than a million, and the board sound, or not, as others are (common practice). What stands still has no time.
func (b *Board) withSlips(all []Case) []Case {
	sum := slipShare
	for i := range all {
		sum += all[i].Share
	}
	for i := range all {
		all[i].Share /= sum
	}
	if len(b.Design.Stills) > 0 {
		return all
	}
	for _, s := range []struct{ by, share float64 }{{1e-6, 0.1}, {1e-3, 0.4}, {1e3, 0.4}, {1e6, 0.1}} {
		see := func(high, low float64) (float64, float64) { return s.by * high, s.by * low }
		c := b.lying(slipShare*s.share/sum, slipped+unitCode(b.TimeUnit), posterior.Misfit{Share: 0.7, High: 0.01, Low: 0.01, See: see}, posterior.Misfit{Share: 0.3, High: 0.2, Low: 0.2, Both: 0.2, See: see})
		c.Parameters[1] = &Parameter{"times the design's", "1", 0, func(*circuit.Values) float64 { return s.by }}
		all = append(all, c)
	}
	return all
}

// timeUnits are the units that a capture's times are read in, a thousand apart.
var timeUnits = []string{"s", "ms", "us", "ns"}

// unitCode writes a unit into the kind of a wrong signal, as a fraction; 0: it is not known.
func unitCode(unit string) float64 {
	return float64(slices.Index(timeUnits, unit)+1) / 8
}

// TimeUnitFlag is how to ask for the unit that makes times right which are by so many times too long; unit is what they were read in.
func TimeUnitFlag(unit string, times float64) string {
	i := slices.Index(timeUnits, unit)
	if right := i + int(math.Round(math.Log10(times)/3)); i >= 0 && right >= 0 && right < len(timeUnits) {
		return fmt.Sprintf("--time-unit %s; it was read in %s", timeUnits[right], unit)
	}
	return "--time-unit"
}

// nodes are the captures of the capacitor's node, through a probe that draws next to nothing and through the usual one, which
// is a leak of its own as long as it is there.
func (b *Board) nodes() []Case {
	out := []Case{b.seen(nodeShare, ofTheNode, b.midway)}
	switch v, err := b.Circuit.Typical(b.Design); {
	case b.Circuit.Wiring.Device.Kind == wiring.Pair: // a base is no ramp between two thresholds
		return nil
	case b.Circuit.Curve == nil || b.Circuit.Bends:
		out[0] = b.lying(nodeShare, ofTheNode, ramp)
	case err == nil:
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

// rampsOdds is how much oftener the capacitor's node than an output dwells at no two levels: an output does so only where a load
// rounds its edges over a quarter of the cycle (common practice).
const rampsOdds = 1000

// ramp is a capture of the node where its curve is not one of two first-order runs: between thresholds at a third and two thirds
// of what it runs to, each run spends 0.585 of its time on its end's side of the middle (ln 1.5/ln 2); diodes move that a little.
var ramp = posterior.Misfit{Share: 1, High: 0.05, Low: 0.05, See: func(high, low float64) (float64, float64) {
	const end = 0.585
	return end*high + (1-end)*low, (1-end)*high + end*low
}}

// dividers are a counter's outputs behind the board's, by what they divide and how often (common practice).
var dividers = []struct{ by, share float64 }{{2, 0.4}, {4, 0.2}, {8, 0.1}, {10, 0.2}, {16, 0.1}}

// counted are the captures of a counter's output: its two halves are as many cycles, so that they are equal, which a board's own are
// but by chance. Those of a multivibrator, whose halves are apart, are met within a hundredth: where a collector hardly comes back in
// its half-cycle, a solution for one number in both times finds one of two.
func (b *Board) counted() (all []Case) {
	var forms []posterior.Misfit
	for _, n := range dividers {
		half := func(high, low float64) (float64, float64) { return n.by * (high + low) / 2, n.by * (high + low) / 2 }
		forms = append(forms, posterior.Misfit{Share: n.share, High: 0.01, Low: 0.01, See: half})
		all = append(all, b.seen(dividedShare*n.share, divided, func(_ *circuit.Values, high, low float64) (float64, float64, bool) {
			high, low = half(high, low)
			return high, low, true
		}))
	}
	if b.Circuit.Wiring.Device.Kind == wiring.Pair {
		return []Case{b.lying(dividedShare, divided, forms...)}
	}
	return all
}

// elsewhere is no signal of the board: hum at the mains, or ripple at twice it, whose halves are less even; or some other clock of
// even halves (common practice).
var elsewhere = func() (e []posterior.Misfit) {
	for _, hum := range []struct{ hertz, sd float64 }{{50, 0.015}, {60, 0.015}, {100, 0.05}, {120, 0.05}} {
		e = append(e, posterior.Misfit{Share: 0.125, High: hum.sd, Low: hum.sd, See: func(_, _ float64) (float64, float64) { return 0.5 / hum.hertz, 0.5 / hum.hertz }})
	}
	return append(e, posterior.Misfit{Share: 0.5, High: 0.02, Low: 0.02, Both: 5, See: func(high, low float64) (float64, float64) {
		return (high + low) / 2, (high + low) / 2
	}})
}()

// What the first parameter of a wrong signal says; from slipped on there is the unit in it, from aliased on it is the sample rate, Hz.
const (
	upright = iota // it was turned as it was read, and should not be
	inverted
	ofTheNode
	foreign
	divided
	silent
	onRail
	slipped
	aliased
)

// silentOdds are the odds that a capture without a pulse has nothing of the board in it, against a sound board that is captured as it
// is: it is looked at because nothing was seen. silentLow is how often a line that shows nothing of the board lies low: no supply, an open probe; else it is on a rail (common
// practice).
const silentOdds, silentLow = 0.05, 0.8

// lying is a sound board whose capture lies in one of these forms about what another way to see it shows.
func (b *Board) lying(share, kind float64, forms ...posterior.Misfit) Case {
	c := b.seen(share, kind, nil)
	c.Unexplained, c.Misfit = true, forms
	return c
}

// seen is a sound board shown in another way.
func (b *Board) seen(share, kind float64, see func(v *circuit.Values, high, low float64) (float64, float64, bool)) Case {
	c := b.with([]*Parameter{{"kind", "1", 0, func(*circuit.Values) float64 { return kind }}, {"rate that would do", "1", 0, func(*circuit.Values) float64 { return b.rate() }}})
	c.Share, c.See = share, see
	return c
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

// sights say of each kind what it is, in brief where that is shorter, what to capture instead, and how that is entered.
var sights = [...]struct{ detail, brief, do, enter string }{
	upright:   {"it was turned and should not be: take --invert away", "", "read the same capture without --invert", ""},
	inverted:  {"the output is inverted: add --invert", "", "read the same capture with its polarity turned", "--invert"},
	ofTheNode: {"it is the capacitor's node and not the output: probe the output, or name its channel with --channel out=NAME", "the capacitor's node: probe the output, or name its channel with --channel out=NAME", "capture the output in place of the capacitor's node", "NEW.csv"},
	foreign:   {"it is no signal of this board but mains hum or another clock: probe the output, or name its channel with --channel out=NAME", "mains hum or another clock: probe the output, or name its channel with --channel out=NAME", "capture the output of this board", "NEW.csv"},
	divided:   {"it is the output of a divider behind the board: probe the output itself, or name its channel with --channel out=NAME", "a divider behind the output: probe the output itself, or name its channel with --channel out=NAME", "capture the output in place of the divider's", "NEW.csv"},
	silent:    {"nothing of the board is in it: it has no supply, or the probe is not on its output", "no supply, or the probe is not on the output", "check the supply at the board and the probe on its output, then capture again", "NEW.csv"},
	onRail:    {"nothing of the board's output is in it: the probe is on the supply or another pin", "the probe is on the supply or another pin", "check that the probe is on the board's output, then capture again", "NEW.csv"},
	slipped:   {"its times are {wanted} times those of the design: the unit of its time column ({unit}) or a prefix in the design's values (n, µ; k, M) is wrong", "times {wanted} times the design's: its unit of time ({unit}), or a prefix in the design (n, µ; k, M)", "see that the capture's unit of time and the prefixes of the design's values are right", ""},
	aliased:   {"{rate} samples a second are below two a pulse, so that another frequency shows, or none: sample at {wanted} a second or more", "sampled too slowly: take {wanted} samples a second or more", "capture the output at {wanted} samples a second or more", "NEW.csv"},
}

// sight fills in a text of the kind that is said.
func (s *Said) sight(text string) string {
	unit := ""
	if i := int(math.Round(8 * (s.Values[0] - slipped))); i > 0 && i <= len(timeUnits) {
		unit = timeUnits[i-1]
	}
	return strings.NewReplacer("{rate}", perSecond(s.Values[0]-aliased), "{wanted}", perSecond(s.Values[1]), "{unit}", TimeUnitFlag(unit, s.Values[1])).Replace(text)
}

func wrongSignalDo(s *Said) (reading, enter string) {
	k := sights[int(min(s.Values[0], aliased))]
	return s.sight(k.do), k.enter
}

func wrongSignalDetail(s *Said) string {
	k := sights[int(min(s.Values[0], aliased))]
	if s.Brief && k.brief != "" {
		return s.sight(k.brief)
	}
	return s.sight(k.detail)
}

// perSecond writes a rate without a power of ten.
func perSecond(rate float64) string {
	if rate < 1e4 {
		return Format(rate, "1")
	}
	return fmt.Sprintf("%.0f", rate)
}
