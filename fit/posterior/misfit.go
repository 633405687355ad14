package posterior

import "math"

// form is a misfit about given data: all of it that no board's times move.
type form struct {
	see      func(high, low float64) (seenHigh, seenLow float64)
	constant float64 // of the logarithm of the density
	met      []met
}

// met is a capture as the form meets it: the inverse of the covariance of its times, halved, and by how much what they are off by
// moves what is expected of the captures after it.
type met struct {
	high, low     int // the times' places
	lnHigh, lnLow float64
	hh, hl, ll    float64
	gain          [2][2]float64
}

// about prepares the form for the data, but for settled ones, noise and all. Each capture is met by what those before it say of what all
// share: its mean, and the covariance left (Kalman's recursion).
func (m *Misfit) about(data []Datum) form {
	f := form{see: m.See, constant: math.Log(m.Share)}
	k, own, both := 0, 1-m.Alike, m.Both*m.Both
	high, low := m.High*m.High+both, m.Low*m.Low+both
	hh, ll, hl := m.Alike*high, m.Alike*low, m.Alike*both // of what is shared
	for i := range data {
		d := &data[i]
		c := met{high: k, low: k, lnHigh: d.LnHigh, lnLow: d.LnHigh}
		k++
		if !d.OnePulse {
			c.low, c.lnLow = k, d.LnLow
			k++
		}
		if d.Settled {
			continue
		}
		if m.See == nil && d.Odd != nil {
			f.constant += *d.Odd
			continue
		}
		a, b, ab := hh+own*high+d.High, ll+own*low+d.Low, hl+own*both+d.Covariance
		if d.OnePulse { // whose other time says nothing
			f.constant -= 0.5 * math.Log(2*math.Pi*a)
			c.hh, c.gain = 0.5/a, [2][2]float64{{hh / a, 0}, {hl / a, 0}}
			hh, ll, hl = hh-hh*hh/a, ll-hl*hl/a, hl-hh*hl/a
		} else {
			det := a*b - ab*ab
			f.constant -= 0.5*math.Log(det) + math.Log(2*math.Pi)
			c.hh, c.hl, c.ll = 0.5*b/det, 0.5*ab/det, 0.5*a/det
			// The gain: what is shared over what is seen of it.
			g, h, p, q := (hh*b-hl*ab)/det, (hl*a-hh*ab)/det, (hl*b-ll*ab)/det, (ll*a-hl*ab)/det
			c.gain = [2][2]float64{{g, h}, {p, q}}
			hh, ll, hl = hh-g*hh-h*hl, ll-p*hl-q*ll, hl-g*hl-h*ll
		}
		f.met = append(f.met, c)
	}
	return f
}

// logDensity is that of the data about the logarithms of their predicted times, in their order.
func (f *form) logDensity(times []float64) float64 {
	sum := f.constant
	var atHigh, atLow float64
	for i := range f.met {
		c := &f.met[i]
		x, y := times[c.high], times[c.low]
		if f.see != nil {
			high, low := f.see(math.Exp(x), math.Exp(y))
			x, y = math.Log(high), math.Log(low)
		}
		x, y = x-c.lnHigh-atHigh, y-c.lnLow-atLow
		sum -= c.hh*x*x - 2*c.hl*x*y + c.ll*y*y
		atHigh, atLow = atHigh+c.gain[0][0]*x+c.gain[0][1]*y, atLow+c.gain[1][0]*x+c.gain[1][1]*y
	}
	return sum
}
