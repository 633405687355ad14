package comparetest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"offbeat/fit"
	"offbeat/fit/wiring"
)

// Find is the wiring of that name.
func Find(name string) *Drawing {
	return Wirings[slices.IndexFunc(Wirings, func(w *Drawing) bool { return w.Name == name })]
}

// Blur is how well a board is measured: the ranges of the relative uncertainties of the times and of the readings of parts, and
// how many parts are read at most.
type Blur struct {
	Times, Readings [2]float64
	Read            int
}

// Wide is what plain averages meet in a second, Sharp is as captures and meters are.
var (
	Wide  = Blur{[2]float64{0.02, 0.06}, [2]float64{0.05, 0.2}, 1}
	Sharp = Blur{[2]float64{1e-5, 3e-3}, [2]float64{1e-3, 2e-2}, 4}
)

// RandomBoard draws a design, odds, and a board whose cause is drawn too, by the odds, or evenly among those that wanted
// accepts where it has such; the board is measured by integrating it from Kirchhoff's law, or by the law under test where that is asked, with
// noise and a clock error. A board that does not run is drawn anew, cause and all.
func RandomBoard(rng *rand.Rand, w *Drawing, family string, blur Blur, integrated bool, wanted func(cause string, parts []string) bool) (Board, error) {
	var why error
	for range 200 {
		b, err := randomDesign(rng, w, family)
		if err != nil {
			return b, err
		}
		b.plan(rng, blur)
		hs, err := b.hypotheses()
		if err != nil {
			why = err
			continue // it does not run at its nominal values
		}
		h := choose(rng, hs, wanted)
		high, low, ok := b.drawn(rng, h, integrated)
		if ok {
			b.measure(rng, high, low, blur)
			b.read(rng, blur)
			return b, nil
		}
	}
	return Board{}, fmt.Errorf("comparetest: no board of %s, %s runs: %v", w.Name, family, why)
}

// drawn draws the truth of a hypothesis, and gives the times that the instrument shows of it.
func (b *Board) drawn(rng *rand.Rand, h *hypothesis, integrated bool) (high, low float64, ok bool) {
	u := make([]float64, len(h.steps))
	for i := range u {
		u[i] = rng.Float64()
	}
	s := h.state()
	b.Truth = Truth{h.Cause, h.Parts, s, h.wild}
	h.draw(u, s)
	if integrated && s.view != ofNode && s.view != atHalf {
		high, low, ok = b.integrate(h, s)
	} else {
		high, low, ok = h.shown(s)
	}
	if h.Cause == Unexplained && h.wild == "" {
		on, off, both := b.oddSizes(rng)
		common := both * rng.NormFloat64()
		high, low = high*math.Exp(on*rng.NormFloat64()+common), low*math.Exp(off*rng.NormFloat64()+common)
	}
	if h.forms != nil {
		u := rng.Float64()
		k := slices.IndexFunc(h.forms, func(f sight) bool { u -= f.share; return u < 0 })
		f := h.forms[max(k, 0)]
		high, low = f.of(high, low)
		common := f.sd[2] * rng.NormFloat64()
		high, low = high*math.Exp(f.sd[0]*rng.NormFloat64()+common), low*math.Exp(f.sd[1]*rng.NormFloat64()+common)
	}
	return high, low, ok
}

// oddSizes draws the form of an unexplained board's times: what each of them, and both together, are off by.
func (b *Board) oddSizes(rng *rand.Rand) (high, low, both float64) {
	sd, u := pick(rng, misfits...), rng.Float64()
	switch {
	case b.Drawing.OnePulse || u >= highAlone+lowAlone+oneFactor:
		return sd, sd, 0
	case u < highAlone:
		return sd, besideLine, 0
	case u < highAlone+lowAlone:
		return besideLine, sd, 0
	}
	return besideLine, besideLine, sd
}

// pick draws one of the values.
func pick[T any](rng *rand.Rand, values ...T) T { return values[rng.IntN(len(values))] }

// even draws between low and high, evenly in the logarithm.
func even(rng *rand.Rand, low, high float64) float64 { return low * math.Pow(high/low, rng.Float64()) }

// preferred draws an E24 value.
func preferred(rng *rand.Rand, low, high float64) float64 {
	return pick(rng, e24...) * math.Pow(10, math.Floor(math.Log10(even(rng, low, high))))
}

// choose draws by the odds, or evenly among the wanted ones where there are any.
func choose(rng *rand.Rand, hs []*hypothesis, wanted func(cause string, parts []string) bool) *hypothesis {
	if wanted != nil {
		if some := slices.DeleteFunc(slices.Clone(hs), func(h *hypothesis) bool { return !wanted(h.Cause, h.Parts) }); len(some) > 0 {
			return pick(rng, some...)
		}
	}
	total := 0.
	for _, h := range hs {
		total += h.Odds
	}
	u := rng.Float64() * total
	for _, h := range hs {
		if u -= h.Odds; u < 0 {
			return h
		}
	}
	return hs[0]
}

// randomDesign draws nominals, tolerances, supply, clock class and odds.
func randomDesign(rng *rand.Rand, w *Drawing, family string) (b Board, err error) {
	b.Drawing = w
	d := &b.Design
	d.Family, d.History = family, pick(rng, fit.New, fit.Worked)
	d.Supply = fit.Reading{Name: "supply", Value: pick(rng, 5., 9, 12)}
	d.Supply.Half = pick(rng, 0, 0.02, 0.05) * d.Supply.Value
	ohms, farads := even(rng, 0.3, 10), even(rng, 0.1, 10)
	words := strings.Fields(w.Parts)
	for i := 0; i < len(words); i += 2 {
		p := fit.Part{Name: words[i], Kind: fit.Resistor}
		last := len(words[i+1]) - 1
		usual, err := strconv.ParseFloat(words[i+1][:last], 64)
		if err != nil {
			return b, err
		}
		if words[i+1][last] == 'n' {
			p.Kind, p.Class = fit.Capacitor, pick(rng, "film", "ceramic", "electrolytic", "c0g", "tantalum")
		}
		switch {
		case w.Cards != "": // what others drew runs about its own values only
			p.Nominal = usual * map[byte]float64{'k': 1e3 * ohms, 'n': 1e-9 * farads}[words[i+1][last]] * even(rng, 0.4, 2.5)
		case p.Name == "R3": // the feedback's other half, within a decade of R2
			p.Nominal = preferred(rng, d.Parts[2].Nominal/10, d.Parts[2].Nominal*10)
		case p.Kind == fit.Resistor:
			p.Nominal = preferred(rng, 1e3, 1e6)
		default:
			p.Nominal = preferred(rng, 1e-9, 1e-5)
		}
		t := pick(rng, 0.001, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2)
		p.Minus, p.Plus = t, t
		d.Parts = append(d.Parts, p)
	}
	b.Measured.Clock = pick(rng, 50e-6, 50e-6, 5e-3, 0.02)
	if w.Set != nil {
		w.Set(d)
	}
	if w.Cards == "" {
		d.Circuit = w.Name
	} else if d.Wiring, err = wiring.Parse(w.Cards, held(d)...); err != nil {
		return b, err
	}
	if rng.IntN(3) > 0 { // odds of its own
		d.Odds = map[string]float64{}
		for _, key := range slices.Sorted(keysOf(Keys)) {
			d.Odds[key] = even(rng, 0.003, 0.5)
			for _, p := range d.Parts {
				d.Odds[key+"."+p.Name] = even(rng, 0.003, 0.5)
			}
		}
	}
	if w.Views == 0 && !w.OnePulse {
		if d.Odds == nil {
			d.Odds = map[string]float64{}
		}
		d.Odds[Keys[WrongSignal]] = 0
	}
	return b, nil
}

func keysOf(m map[string]string) func(yield func(string) bool) {
	return func(yield func(string) bool) {
		for _, v := range m {
			if !yield(v) {
				return
			}
		}
	}
}

// measure fills in the times that the instrument shows.
func (b *Board) measure(rng *rand.Rand, high, low float64, blur Blur) {
	m := &b.Measured
	// The errors of high and low time are correlated through a third, common one.
	uHigh, uLow, common := even(rng, blur.Times[0], blur.Times[1]), even(rng, blur.Times[0], blur.Times[1]), pick(rng, 0, 0.5, -0.5)
	first, second := rng.NormFloat64(), rng.NormFloat64()
	high *= math.Exp(uHigh * first)
	low *= math.Exp(uLow * (common*first + math.Sqrt(1-common*common)*second))
	m.High, m.Cycles = fit.Estimate{Value: high, Uncertainty: uHigh * high, Count: 100}, 100
	if !b.Drawing.OnePulse {
		m.Low = fit.Estimate{Value: low, Uncertainty: uLow * low, Count: 100}
		m.Covariance = common * uHigh * uLow * high * low
	}
}

// plan says which parts are to be read, none on half of the boards.
func (b *Board) plan(rng *rand.Rand, blur Blur) {
	if rng.IntN(2) == 0 {
		return
	}
	for _, i := range rng.Perm(len(b.Design.Parts))[:rng.IntN(min(blur.Read, len(b.Design.Parts))+1)] {
		b.Design.Readings = append(b.Design.Readings, fit.Reading{Name: b.Design.Parts[i].Name})
	}
}

// read takes the direct readings of the parts.
func (b *Board) read(rng *rand.Rand, blur Blur) {
	for i := range b.Design.Readings {
		r := &b.Design.Readings[i]
		value := b.Value(r.Name)
		if r.Name == b.Truth.wild {
			value *= math.Pow(wildRange, rng.Float64()-0.5)
		}
		size := value * even(rng, blur.Readings[0], blur.Readings[1])
		if rng.IntN(2) == 0 {
			r.Half, r.Value = size, value+size*(2*rng.Float64()-1)
		} else {
			r.Standard, r.Value = size/2, value+size/2*rng.NormFloat64()
		}
	}
}
