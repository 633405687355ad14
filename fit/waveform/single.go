package waveform

import (
	"fmt"
	"math"

	"offbeat/acquire"
	"offbeat/fit"
	"offbeat/fit/budget"

	"gonum.org/v1/gonum/mat"
)

// single fits the charge of a circuit whose capacitor is emptied at once after each pulse: the pulse begins where the
// charge does and ends at the upper threshold. The entries of the discharge stay zero.
func single(c *acquire.Capture, m *fit.Measurement, charge []segment) (*Result, error) {
	if len(charge) < 1 {
		return nil, fault(c, "no whole charge of the capacitor was found", fmt.Sprintf("pulses of at least %d samples", fewest), ErrCurve)
	}
	run, err := fitRuns(charge)
	if err != nil {
		return nil, bent(c, m, "the capacitor's charge does not fit an exponential run: "+err.Error(), bend)
	}
	if run.p[1] > 0 {
		return nil, fault(c, "the capacitor's voltage falls during the pulse", "a charge from the output's rise to its fall; see that the channels are not exchanged", ErrCurve)
	}
	r := &Result{Measurement: m, Single: true, Cycles: len(charge), Residual: math.Sqrt(run.square / run.freedom)}
	inputs := mat.NewSymDense(4, nil)
	for i := range 3 {
		for k := i; k < 3; k++ {
			inputs.SetSym(i, k, run.covariance[i][k])
		}
	}
	inputs.SetSym(3, 3, m.High.Uncertainty*m.High.Uncertainty)
	end, amplitude, tau, t := run.p[0], run.p[1], run.p[2], m.High.Value
	left := math.Exp(-t / tau)
	slope := mat.NewDense(quantities, 4, nil)
	slope.Set(TauCharge, 2, 1)
	slope.SetRow(Upper, []float64{1, left, amplitude * left * t / (tau * tau), -amplitude * left / tau})
	slope.SetRow(Lower, []float64{1, 1, 0, 0})
	slope.Set(Asymptote, 0, 1)
	if r.Covariance, err = budget.Propagate(slope, inputs); err != nil {
		return nil, err
	}
	for i, e := range map[int]*fit.Estimate{TauCharge: &r.TauCharge, Upper: &r.Upper, Lower: &r.Lower, Asymptote: &r.Asymptote} {
		value := [quantities]float64{TauCharge: tau, Upper: end + amplitude*left, Lower: end + amplitude, Asymptote: end}[i]
		*e = fit.Estimate{Value: value, Uncertainty: math.Sqrt(max(r.Covariance.At(i, i), 0)), Count: r.Cycles}
	}
	r.count()
	return r, nil
}
