package follow

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// The filter of spans of pulses against the same model as matrices: each pulse's length has a step of its own, of the ratio's variance,
// and the two edges that bound it unit ones. Its likelihood has the mean high time, the mean low time and a drift taken out.
func TestFilterAgainstMatrices(t *testing.T) {
	for seed := range uint64(40) {
		rnd := rand.New(rand.NewPCG(seed, 3))
		var spans []span
		total := 0
		for range 1 + rnd.IntN(4) {
			var s span
			up := rnd.IntN(2)
			for range 1 + rnd.IntN(30) {
				s.width, s.level = append(s.width, rnd.NormFloat64()), append(s.level, up)
				up = 1 - up
				total++
			}
			spans = append(spans, s)
		}
		ratio := math.Pow(10, -3+4*rnd.Float64())
		unknown := 2
		if total >= driftPulses {
			unknown = 3
		}
		v, x, y := mat.NewSymDense(total, nil), mat.NewDense(total, unknown, nil), mat.NewVecDense(total, nil)
		k := 0
		highs := 0
		for _, s := range spans {
			for i, w := range s.width {
				y.SetVec(k, w)
				v.SetSym(k, k, 2+ratio)
				if i > 0 {
					v.SetSym(k-1, k, -1)
				}
				x.Set(k, s.level[i], 1)
				highs += s.level[i]
				if unknown == 3 {
					x.Set(k, 2, float64(k)/float64(total))
				}
				k++
			}
		}
		logs, rest, ok := filter(spans, ratio, float64(total))
		if total <= 2 || highs == 0 || highs == total {
			if ok {
				t.Errorf("seed %d: %d pulses, %d high, are said to show their noise", seed, total, highs)
			}
			continue
		}
		var inverse, information mat.Dense
		var right, xy, beta mat.VecDense
		if !ok || inverse.Inverse(v) != nil {
			t.Fatalf("seed %d: no likelihood", seed)
		}
		information.Product(x.T(), &inverse, x)
		right.MulVec(&inverse, y)
		xy.MulVec(x.T(), &right)
		if beta.SolveVec(&information, &xy) != nil {
			t.Fatalf("seed %d: no means", seed)
		}
		logV, _ := mat.LogDet(v)
		logX, _ := mat.LogDet(&information)
		if unknown == 2 {
			logX += math.Log(1e12)
		}
		want := mat.Dot(y, &right) - mat.Dot(&xy, &beta)
		if !(math.Abs(logs-logV-logX) <= 1e-6) || !(math.Abs(rest/want-1) <= 1e-6) {
			t.Errorf("seed %d, %d pulses in %d spans, ratio %g: %.6f and %.6f, by matrices %.6f and %.6f", seed, total, len(spans), ratio, logs, rest, logV+logX, want)
		}
	}
}

// The variance of a sum of pulses is the average over the ratios by their likelihood, none of a walk weighing as much as all that have
// one, times 1.2; a walk counts from a tenth of what the two ends of each stretch add.
func TestVarianceOfTheSum(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 3))
	for _, walk := range []float64{0, 0.3, 3} {
		var s span
		last := rnd.NormFloat64()
		for i := range 60 {
			next := rnd.NormFloat64()
			s.width, s.level = append(s.width, next-last+walk*rnd.NormFloat64()), append(s.level, i%2)
			last = next
		}
		n := newNoise([]span{s})
		if n == nil || n.free != 57 || n.pulses != 60 {
			t.Fatalf("%+v", n)
		}
		var all, sum float64
		walks := 0.0
		for pass := range 2 {
			for k := range ratios {
				ratio := 1e-6 * math.Pow(2.5, float64(k))
				logs, rest, _ := filter([]span{s}, ratio, 60)
				w := math.Exp(-0.5 * (logs + 57*math.Log(rest)))
				counts := ratio*2.5*60 >= 0.2
				switch {
				case pass == 0:
					if counts {
						walks++
					}
					continue
				case k == 0:
					w *= walks * 1.2
				case !counts:
					continue
				}
				all, sum = all+w, sum+w*rest/55*(2*2+ratio*60)
			}
		}
		if got := n.sum(2); !(math.Abs(got/(sum/all)-1) <= 1e-6) {
			t.Errorf("walk %g: variance %.6g, averaged %.6g", walk, got, sum/all)
		}
		twice := &noise{}
		twice.add(n)
		twice.add(n)
		if twice.free != 114 || twice.pulses != 120 || !(math.Abs(twice.rest[3]/n.rest[3]-2) <= 1e-12) || !(math.Abs(twice.logs[3]/n.logs[3]-2) <= 1e-12) {
			t.Errorf("twice the same is %+v", twice)
		}
	}
}
