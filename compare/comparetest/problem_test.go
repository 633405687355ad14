package comparetest

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/wiring"
)

// Problem is everything that fixes the probabilities: the design with its odds and readings of parts, and the times measured.
type Problem struct {
	Drawing  *Drawing
	Design   fit.Design
	Measured fit.Measurement
}

// Drawing is a board as it is wired, with what the prior forms need to know of it and a reader sees on the drawing.
type Drawing struct {
	Name  string
	Cards string // the wiring's text; empty: the multivibrator, which is no wiring
	Parts string // "R1 10k R2 47k …": the usual values
	// Charging is what the timing capacitor charges through, Path what lies between the discharge pin and it while the output
	// is low, empty where there is no such pin or it is not used: sums of parts; "RV1:" is the part of a potentiometer's track
	// up to its wiper, ":RV1" that behind it.
	Charging, Path string
	Node           string             // the timing node
	Divider        string             // the resistors that make a comparator's reference
	Leaks          []string           // capacitors that swing, the timing one first
	Idle           []string           // parts that have no bearing on the times
	Views          int                // 2: a wrong signal may be inverted or of the node; 1: inverted, a diode bends the node's curve; 0: it is not known here
	OnePulse       bool               // the high time alone is timed
	Shares         map[string]float64 // nodes held at a share of the supply
	Families       []string           // of the device
	Set            func(d *fit.Design)
}

// Wirings are the boards that the reference knows: the seven that the program ships, and others as people wire them.
var Wirings = []*Drawing{
	{Name: "astable", Parts: "R1 10k R2 47k C1 100n", Charging: "R1+R2", Path: "R2", Node: "cap", Leaks: []string{"C1"}, Views: 2, Families: timer},
	{Name: "astable-diode", Parts: "R1 22k R2 47k C1 100n", Charging: "R1", Path: "R2", Node: "cap", Leaks: []string{"C1"}, Views: 1, Families: timer},
	{Name: "astable-output", Parts: "R1 47k C1 100n", Charging: "R1", Node: "cap", Leaks: []string{"C1"}, Views: 2, Families: timer},
	{Name: "monostable", Parts: "R1 47k C1 100n", Charging: "R1", Node: "cap", Leaks: []string{"C1"}, OnePulse: true, Families: timer},
	{Name: "schmitt", Parts: "R1 47k C1 100n", Charging: "R1", Node: "cap", Leaks: []string{"C1"}, Views: 2, Families: []string{fit.Ideal, fit.CMOS}},
	{Name: "multivibrator", Parts: "R1 47k C1 100n R2 68k C2 47n", Views: 1, Families: []string{fit.Ideal, fit.Bipolar}},
	{Name: "comparator", Divider: "R2 R3", Shares: map[string]float64{"middle": 0.5}, Parts: "R1 47k C1 100n R2 10k R3 22k", Charging: "R1", Node: "cap", Leaks: []string{"C1"}, Families: timer},
	{Name: "two diodes", Cards: astableTo("R2 discharge a\nD1 a cap\nR3 discharge b\nD2 cap b\nC1 cap ground"),
		Parts: "R1 1k R2 22k R3 47k C1 100n", Charging: "R1+R2", Path: "R3", Node: "cap", Leaks: []string{"C1"}, Views: 1, Families: timer},
	{Name: "trimmer in series", Cards: astableTo("R2 discharge a\nRV1 a cap\nC1 cap ground\nC2 control ground"),
		Parts: "R1 10k R2 22k RV1 22k C1 100n C2 10n", Charging: "R1+R2+RV1", Path: "R2+RV1", Node: "cap", Leaks: []string{"C1"}, Idle: []string{"C2"}, Views: 2, Families: timer},
	{Name: "divider on the control pin", Cards: astableTo("R2 discharge cap\nC1 cap ground\nR3 control ground\nR4 supply control"),
		Parts: "R1 10k R2 47k C1 100n R3 33k R4 68k", Charging: "R1+R2", Path: "R2", Node: "cap", Leaks: []string{"C1"}, Families: timer},
	{Name: "op-amp on two supplies", Cards: "U1 comparator plus=ref minus=cap\nR1 output cap\nC1 cap ground\nR2 output ref\nR3 ref ground",
		Divider: "R2 R3", Parts: "R1 47k C1 100n R2 10k R3 15k", Charging: "R1", Node: "cap", Leaks: []string{"C1"}, Families: []string{fit.OpAmp}, Set: func(d *fit.Design) {
			d.Supply = fit.Reading{Name: "supply", Value: 15, Half: 0.3}
			d.Minus = fit.Reading{Name: "minus", Value: -15, Half: 0.3}
		}},
	{Name: "capacitor to the supply", Cards: astableTo("R2 discharge cap\nC1 cap supply\nC2 cap ground"),
		Parts: "R1 10k R2 47k C1 47n C2 22n", Charging: "R1+R2", Path: "R2", Node: "cap", Leaks: []string{"C1", "C2"}, Views: 2, Families: timer},
	{Name: "wiper between two diodes", Cards: astableTo("RV1 a discharge b\nD1 a cap\nD2 cap b\nC1 cap ground"),
		Parts: "R1 4.7k RV1 100k C1 100n", Charging: "R1+RV1:", Path: ":RV1", Node: "cap", Leaks: []string{"C1"}, Views: 1, Families: timer, Set: func(d *fit.Design) {
			d.Part("RV1").Position = fit.Reading{Value: 0.4, Half: 0.05}
		}},
	{Name: "diode across part of R2", Cards: astableTo("R2 discharge a\nR3 a cap\nD1 a cap\nC1 cap ground"),
		Parts: "R1 10k R2 22k R3 33k C1 100n", Charging: "R1+R2", Path: "R2+R3", Node: "cap", Leaks: []string{"C1"}, Views: 1, Families: timer},
	{Name: "inverter with a diode", Cards: "U1 inverter in=cap\nR1 output cap\nC1 cap ground\nR2 output a\nD1 cap a",
		Parts: "R1 47k C1 100n R2 22k", Charging: "R1", Node: "cap", Leaks: []string{"C1"}, Families: []string{fit.Ideal, fit.CMOS}, Set: func(d *fit.Design) {
			d.Diodes = []fit.Diode{{Name: "D1", Kind: fit.Schottky}}
		}},
	{Name: "comparator on one supply", Cards: "U1 comparator plus=ref minus=cap\nR1 output cap\nC1 cap ground\nR2 output ref\nR3 ref ground\nR4 ref supply",
		Divider: "R2 R3 R4", Parts: "R1 47k C1 100n R2 10k R3 15k R4 12k", Charging: "R1", Node: "cap", Leaks: []string{"C1"}, Families: []string{fit.Ideal, fit.CMOS}},
	{Name: "filter at the timing node", Cards: astableTo("R2 discharge a\nC2 a ground\nR3 a cap\nC1 cap ground"),
		Parts: "R1 10k R2 22k C2 10n R3 22k C1 100n", Charging: "R1+R2+R3", Path: "R2+R3", Node: "cap", Leaks: []string{"C1", "C2"}, Families: []string{fit.Ideal}},
}

var timer = []string{fit.Ideal, fit.Bipolar, fit.CMOS}

// astableTo are the cards of a timer whose threshold and trigger lie on cap, R1 from the supply to its discharge pin.
func astableTo(rest string) string {
	return "U1 timer trigger=cap threshold=cap\nR1 supply discharge\n" + rest
}

// text is the wiring's.
func (k *Drawing) text() string {
	if s, ok := wiring.Lookup(k.Name); ok && k.Cards == "" {
		return s.Text
	}
	return k.Cards
}

// held are the nodes that the wiring may name besides ground and supply.
func held(d *fit.Design) []string {
	var all []string
	if d.Minus.Value < 0 {
		all = append(all, wiring.Minus)
	}
	for _, n := range d.Nodes {
		all = append(all, n.Name)
	}
	return all
}

// times is what was measured, in the form that the likelihood wants: the logarithms of the times are normal about those that
// the instrument shows of the board.
type times struct {
	ln        [2]float64
	cov       [3]float64 // variances of ln high and ln low, and their covariance
	precision [3]float64
	most      float64 // the density's maximum
	one       bool    // the high time alone
	misfit    []odd   // the same for an unexplained board's
}

func (p *Problem) times() (times, error) {
	m := &p.Measured
	relative := func(e fit.Estimate) float64 { return e.Uncertainty / e.Value }
	t := times{one: p.Drawing.OnePulse}
	t.ln[0], t.cov[0] = math.Log(m.High.Value), sq(relative(m.High))
	if !t.one {
		t.ln[1], t.cov[1], t.cov[2] = math.Log(m.Low.Value), sq(relative(m.Low)), m.Covariance/(m.High.Value*m.Low.Value)
	}
	for _, sd := range misfits {
		forms := []odd{{share: 1 - highAlone - lowAlone - oneFactor, sd: [3]float64{sd, sd, 0}}, {share: highAlone, sd: [3]float64{sd, besideLine, 0}},
			{share: lowAlone, sd: [3]float64{besideLine, sd, 0}}, {share: oneFactor, sd: [3]float64{besideLine, besideLine, sd}}}
		if t.one {
			forms = []odd{{share: 1, sd: [3]float64{sd, 0, 0}}}
		}
		for _, f := range forms {
			var err error
			if f.times, err = t.wider(f.sd); err != nil {
				return t, err
			}
			f.share /= float64(len(misfits))
			t.misfit = append(t.misfit, f)
		}
	}
	return t.wider([3]float64{})
}

// odd is a form of an unexplained board's times: its share, and the standard deviations of ln high, of ln low, and of both
// together.
type odd struct {
	share float64
	sd    [3]float64
	times times
}

// wider adds variances to those of the logarithms: of each by itself, and of both together.
func (t times) wider(sd [3]float64) (times, error) {
	t.cov[0] += sd[0]*sd[0] + sd[2]*sd[2]
	if t.one {
		t.precision, t.most = [3]float64{1 / t.cov[0]}, 1/math.Sqrt(2*math.Pi*t.cov[0])
		return t, nil
	}
	t.cov[1] += sd[1]*sd[1] + sd[2]*sd[2]
	t.cov[2] += sd[2] * sd[2]
	det := t.cov[0]*t.cov[1] - t.cov[2]*t.cov[2]
	if !(det > 0) {
		return t, fmt.Errorf("comparetest: the covariance of the times is not positive definite: %v", t.cov)
	}
	t.precision, t.most = [3]float64{t.cov[1] / det, t.cov[0] / det, -t.cov[2] / det}, 1/(2*math.Pi*math.Sqrt(det))
	return t, nil
}

// density of what was measured where the instrument shows high and low.
func (t *times) density(high, low float64) float64 {
	d, e := t.ln[0]-math.Log(high), 0.
	if !t.one {
		e = t.ln[1] - math.Log(low)
	}
	return t.most * math.Exp(-0.5*(t.precision[0]*d*d+t.precision[1]*e*e+2*t.precision[2]*d*e))
}

// leg is a resistor, or a part of a potentiometer's track, on the way to the timing capacitor.
type leg struct {
	part       int
	wiper      circuit.Slot // of the share of the track that counts; negative: all of it
	complement bool         // one less that share
}

// legs reads Charging or Path for a board of that circuit.
func (p *Problem) legs(text string, c *circuit.Circuit) (all []leg) {
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == '+' }) {
		name := strings.Trim(word, ":")
		l := leg{part: slices.IndexFunc(p.Design.Parts, func(q fit.Part) bool { return q.Name == name }), wiper: -1, complement: word[0] == ':'}
		if name != word {
			l.wiper, _ = c.Position(name)
		}
		all = append(all, l)
	}
	return all
}

// ohms is their sum on a board.
func ohms(all []leg, s *state) float64 {
	sum := 0.
	for _, l := range all {
		share := 1.
		if l.wiper >= 0 {
			if share = s.v[l.wiper]; l.complement {
				share = 1 - share
			}
		}
		sum += share * s.parts[l.part]
	}
	return sum
}

// state is one board as drawn: the design's parts in their order, and the values that the law wants.
type state struct {
	parts []float64
	v     circuit.Values
	view  view
}

// view is what the capture is of.
type view int

const (
	ofOutput view = iota
	inverted
	ofNode // the capacitor's, its edges midway between its ends
	atHalf // the output, its edges at half the supply
)
