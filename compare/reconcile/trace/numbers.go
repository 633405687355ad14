package trace

import (
	"cmp"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"offbeat/fit"
	"offbeat/fit/budget"
	"offbeat/fit/circuit"
	"offbeat/fit/waveform"
)

// A channel shows the supply's own scale where the asymptotes lie within these shares of it. Outside, its probe's
// attenuation is set wrong, or it is coupled for alternating voltage.
var plausible = struct{ charge, discharge [2]float64 }{[2]float64{0.5, 1.25}, [2]float64{-0.15, 0.5}}

// Numbers are the capacitor's waveform: logarithms of both time constants, then four voltages as shares of
// the nominal supply, in the order of the waveform's indices.
type Numbers struct {
	y          [6]float64
	covariance *mat.SymDense // the fit's own
	supply     float64       // V, the divisor
	scale      float64       // relative limit of the channel's scale
	zero       float64       // limit of its zero, as a share of the supply
	Plausible  bool          // scale and zero are those of a channel set right
	Cycles     int           // behind them
	single     bool          // nothing is known of the discharge: its numbers are 0, their variances 1
}

// Of takes waveforms of one setting as one: their mean, weighted with the inverse of their covariances. typical is the
// typical board: between two supplies a discharge heads for the lower one.
func Of(d *fit.Design, all []*waveform.Result, supply float64, typical *circuit.Values) (Numbers, error) {
	n := Numbers{supply: supply}
	n.scale, n.zero = d.Channel()
	n.supply = cmp.Or(n.supply, all[0].Asymptote.Value)
	weight, sum := mat.NewSymDense(6, nil), mat.NewVecDense(6, nil)
	for _, w := range all {
		y, c, err := n.of(w)
		if err != nil {
			return n, err
		}
		if len(all) == 1 {
			copy(n.y[:], y.RawVector().Data)
			n.covariance = c
			break
		}
		inverse, err := inverted(c)
		if err != nil {
			return n, err
		}
		weight.AddSym(weight, inverse)
		var x mat.VecDense
		x.MulVec(inverse, y)
		sum.AddVec(sum, &x)
	}
	if n.covariance == nil {
		var err error
		if n.covariance, err = inverted(weight); err != nil {
			return n, err
		}
		var mean mat.VecDense
		mean.MulVec(n.covariance, sum)
		copy(n.y[:], mean.RawVector().Data)
	}
	between := func(x float64, limits [2]float64) bool { return x >= limits[0] && x <= limits[1] }
	low := 0.0
	if supply > 0 {
		low = typical[circuit.Minus] / supply
	}
	n.Plausible = supply > 0 && between(n.y[waveform.Asymptote], plausible.charge) && between(n.y[waveform.DischargeAsymptote]-low, plausible.discharge)
	return n, nil
}

// of is one waveform's numbers with their covariance.
func (n *Numbers) of(w *waveform.Result) (*mat.VecDense, *mat.SymDense, error) {
	y, slope := mat.NewVecDense(6, nil), mat.NewDense(6, 6, nil)
	n.single, n.Cycles = w.Single, n.Cycles+w.Cycles
	for i, e := range estimates(w) {
		if n.single && ofDischarge(i) {
			continue
		}
		y.SetVec(i, e.Value/n.supply)
		slope.Set(i, i, 1/n.supply)
		if i <= waveform.TauDischarge {
			y.SetVec(i, math.Log(e.Value))
			slope.Set(i, i, 1/e.Value)
		}
	}
	c, err := budget.Propagate(slope, w.Covariance)
	for i := range 6 {
		if err == nil && n.single && ofDischarge(i) {
			c.SetSym(i, i, 1)
		}
	}
	return y, c, err
}

// ofDischarge says whether a number is of the discharge alone.
func ofDischarge(i int) bool { return i == waveform.TauDischarge || i == waveform.DischargeAsymptote }

func estimates(w *waveform.Result) [6]fit.Estimate {
	return [6]fit.Estimate{w.TauCharge, w.TauDischarge, w.Upper, w.Lower, w.Asymptote, w.DischargeAsymptote}
}

func inverted(c *mat.SymDense) (*mat.SymDense, error) {
	var f mat.Cholesky
	if !f.Factorize(c) {
		return nil, fmt.Errorf("the waveform's uncertainties are degenerate: record more of its cycles")
	}
	out := mat.NewSymDense(c.SymmetricDim(), nil)
	return out, f.InverseTo(out)
}

// withChannel adds what an error of the channel's scale and zero does to the voltages.
func (n *Numbers) withChannel(scale, zero float64) *mat.SymDense {
	out := mat.NewSymDense(6, nil)
	out.CopySym(n.covariance)
	for i := waveform.Upper; i <= waveform.DischargeAsymptote; i++ {
		for k := i; k <= waveform.DischargeAsymptote; k++ {
			out.SetSym(i, k, out.At(i, k)+(sq(scale)*n.y[i]*n.y[k]+sq(zero))/3)
		}
	}
	return out
}

// model is what a board shows in the order of the waveform's indices.
func (n *Numbers) model(c *circuit.Circuit, v *circuit.Values) [6]float64 {
	k := c.Curve(v)
	if v[circuit.Contact] != 0 {
		touch(c, v, &k)
	}
	return [6]float64{math.Log(k.Charge.Tau), math.Log(k.Discharge.Tau),
		k.Peak / n.supply, k.Valley / n.supply, k.Charge.Target / n.supply, k.Discharge.Target / n.supply}
}

// touch puts a bad contact's jumps into a curve: where the current turns the node leaves its threshold at once by what the
// contact drops, and the fit's turns are where the runs meet that are drawn on past it.
func touch(c *circuit.Circuit, v *circuit.Values, k *circuit.Curve) {
	series := v[circuit.Contact] * c.Charging(v) * v[c.Capacitor()] * math.Exp(v[circuit.Clock]) // s
	turn := func(from, to circuit.Run, node float64) float64 {
		inside := from.Target - (from.Target-node)/(1-series/from.Tau) // the capacitor's own voltage
		after := to.Target - (to.Target-inside)*(1-series/to.Tau)
		at, t := node, 0.0
		for range 20 { // Newton's method
			a, b := (node-from.Target)*math.Exp(-t/from.Tau), (after-to.Target)*math.Exp(-t/to.Tau)
			at = from.Target + a
			step := (at - to.Target - b) / (b/to.Tau - a/from.Tau)
			if t -= step; math.Abs(step) < 1e-12*from.Tau {
				break
			}
		}
		return at
	}
	k.Peak, k.Valley = turn(k.Charge, k.Discharge, k.Peak), turn(k.Discharge, k.Charge, k.Valley)
}

// Tells says whether it is known what the capacitor's waveform is in the circuit.
func Tells(c *circuit.Circuit) bool { return c.Curve != nil }

func sq(x float64) float64 { return x * x }
