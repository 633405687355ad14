package change

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

	"offbeat/fit/train"
)

// The run of pulses farthest from the others is that of the largest Student's t among all that leave two pulses inside and two outside,
// on either side: the pooled ones, tried in turn.
func TestStretchIsTheFarthest(t *testing.T) {
	for seed := range uint64(30) {
		rnd := rand.New(rand.NewPCG(seed, 101))
		y := make([]float64, 7+int(seed)%6)
		for i := range y {
			y[i] = 100 + rnd.NormFloat64()
		}
		y[rnd.IntN(len(y))] += 4 // one alone is no run
		for places := 1; places <= 2; places++ {
			first, last, far := 0, 0, 0.0
			for i := 2; i <= len(y)-2; i++ {
				for j := i + 2; j <= len(y); j++ {
					if j < len(y) && places == 1 || j == len(y)-1 || j == len(y) && places == 2 {
						continue
					}
					if by, u := pooled(slices.Concat(y[:i], y[j:]), y[i:j]); math.Abs(by/u) > far {
						first, last, far = i, j, math.Abs(by/u)
					}
				}
			}
			if from, to, by, u := stretch(y, places); from != first || to != last || !(math.Abs(math.Abs(by/u)-far) <= 1e-9*far) {
				t.Errorf("%d places in %.2f: %d to %d by %g ± %g, want %d to %d and a ratio of %g", places, y, from, to, by, u, first, last, far)
			}
		}
	}
}

// Odd is the smaller part: half of the pulses and more are not.
func TestOddOnesAreFewer(t *testing.T) {
	for _, rest := range [][]float64{{1, 1.01, 0.99, 1, 1.005}, {1, 1.01, 0.99, 1}} {
		h := slices.Concat([]float64{20}, rest[:2], []float64{3, 11}, rest[2:], []float64{5})
		want := []int{0, 3, 4, len(h) - 1}
		if len(rest) == 4 { // and four of eight are half
			want = nil
		}
		if s := OfShots(h, 0); !slices.Equal(s.Odd, want) || s.Slope || s.Jump > 0 {
			t.Errorf("%v: %+v, want the odd ones %v", h, s, want)
		}
	}
}

// Four second differences are the fewest that tell of jitter; those of means tell of so many times the variance.
func TestDitherOfFew(t *testing.T) {
	for _, of := range []float64{1, 4} {
		for n, want := range map[int]float64{5: 0, 6: of*(12.*12+24*24+12*12)/4/3 - 1./12} {
			var p points
			for i := range n {
				p.index, p.count, p.phase = append(p.index, of*float64(i)), append(p.count, of), append(p.phase, 100*float64(i))
			}
			p.phase[3] += 12 // second differences of 0, 12, -24 and 12
			near(t, "dither", p.dither(1, p.phase, ofMiddles), want, 1e-9)
		}
	}
}

// A change among averages is placed by what single times are about their means, and a gap is no long period: it is found to the cycle
// behind one.
func TestFinerBesideAGap(t *testing.T) {
	for _, gap := range []int{40, 61, 66} {
		cycles := signal{white: 0.02}.cycles(rand.New(rand.NewPCG(7, 96)), 100, func(i int) (float64, float64) {
			if i >= 58 {
				return 1.004, 1.004
			}
			return 1, 1
		})
		for i := gap; i < len(cycles); i++ {
			c := &cycles[i]
			c.Rise, c.Fall, c.Index = c.Rise+9*148.4, c.Fall+9*148.4, c.Index+9
		}
		p, _ := newPoints(cycles)
		if got := p.finer([]int{12}, 5); !slices.Equal(got, []int{58}) {
			t.Errorf("a gap before cycle %d: the change at 58 is placed at %v", gap, got)
		}
	}
}

// So placed, the squares about the means of either side, of high times and of periods relative to their means, are the least that two groups
// to either side allow, up to the last period.
func TestFinerHasTheLeastSquares(t *testing.T) {
	squares := func(v []float64) (sum float64) {
		mean := stat.Mean(v, nil)
		for _, x := range v {
			sum += (x/mean - 1) * (x/mean - 1)
		}
		return sum
	}
	for seed := range uint64(200) {
		const n = 36
		rnd := rand.New(rand.NewPCG(seed, 102))
		p, _ := newPoints(signal{white: 2}.cycles(rnd, n, func(i int) (float64, float64) { return 1, 1 }))
		group, k := 2+int(seed%3), 1+rnd.IntN(n/4-1)
		var periods []float64
		for i := range n - 1 {
			periods = append(periods, p.from[i+1]-p.from[i])
		}
		want, least := 0, math.Inf(1)
		for b := max(1, k*group-2*group); b <= min(k*group+2*group, n-2); b++ {
			if s := squares(p.high[:b]) + squares(p.high[b:n-1]) + squares(periods[:b]) + squares(periods[b:]); s < least {
				want, least = b, s
			}
		}
		if got := p.finer([]int{k}, group); !slices.Equal(got, []int{want}) {
			t.Errorf("groups of %d, near average %d: at %v, want %d", group, k, got, want)
		}
	}
}

// Where the duty factor alone jumps, the middles make one step, which a jump of the period and its return are nearly: it is one jump, however
// quiet the middles are beside the high times.
func TestDutyFactorJumpsOnce(t *testing.T) {
	rnd := rand.New(rand.NewPCG(8, 101))
	var cycles []train.Cycle
	for i := range 60 {
		high, middle := 50+2*rnd.NormFloat64(), 150*float64(i)+0.1*rnd.NormFloat64()
		if i >= 25 {
			high, middle = high+9, middle+4.5
		}
		cycles = append(cycles, train.Cycle{Rise: middle - high/2, Fall: middle + high/2, Index: float64(i), N: 1, Start: i == 0})
	}
	got := Find(cycles, 0)
	if len(got.Stretches) != 2 || !(got.Stretches[0].To < cycles[25].Rise) || !(got.Stretches[1].From > cycles[24].Fall) {
		t.Errorf("a jump of the duty factor at %.0f: %+v", cycles[25].Rise, got)
	}
}

// Where the answer turns as what a time does grows, the odds are those that are asked: against a steady train, or one that drifts; more by as much
// as rounding takes. What is as well a jump as a drift is one with the probability that both leave it.
func TestAnswersTurnAtTheirBars(t *testing.T) {
	rnd := rand.New(rand.NewPCG(11, 101))
	var p points
	for i := range 30 {
		p.index, p.count, p.phase, p.high = append(p.index, float64(i)), append(p.count, 1), append(p.phase, rnd.NormFloat64()), append(p.high, rnd.NormFloat64())
	}
	with := func(s series, size, coarse float64, form func(x float64) float64) *series {
		s.coarse, s.y = coarse, slices.Clone(s.y)
		for i, x := range s.x {
			s.y[i] += size * form(x)
		}
		return &s
	}
	falls := func(x float64) float64 { return math.Exp(-5 * x) }
	for name, c := range map[string]struct {
		form   func(x float64) float64
		from   Course
		lo, hi float64
		odds   func(l *looked) float64
		bar    float64
		to     Course
	}{
		"wanders":              {falls, Steady, 20, 45, func(l *looked) float64 { return l.smooth.over(l.calm()) }, moving, Wanders},
		"wanders as it drifts": {func(x float64) float64 { return x * x }, Drifts, 40, 80, func(l *looked) float64 { return l.smooth.over(l.calm()) }, moving, Wanders},
	} {
		for _, coarse := range []float64{1, 1.3} {
			answer := func(size float64) Course {
				_, course := with(*p.highs(), size, coarse, c.form).search()
				return course
			}
			lo, hi := c.lo, c.hi
			for range 25 {
				if mid := (lo + hi) / 2; answer(mid) == c.from {
					lo = mid
				} else {
					hi = mid
				}
			}
			s := with(*p.highs(), hi, coarse, c.form)
			l := s.weigh(grid, s.promising(), nil)
			if got := c.odds(l); answer(lo) != c.from || answer(hi) != c.to || !(math.Abs(got-c.bar*coarse) <= 1e-4) {
				t.Errorf("%s at %g: from %v to %v at odds of exp %.5f, want %.5f", name, hi, answer(lo), answer(hi), got, c.bar*coarse)
			}
		}
	}
	s := with(*p.phases(), 30, 1, falls)
	j, course := s.search()
	l := s.weigh(grid, s.promising(), nil)
	change, others := l.change.over(l.steady), l.slope.and(l.smooth).over(l.steady)
	near(t, "probability of a jump", j.probability, math.Exp(change)/(math.Exp(change)+math.Exp(others)), 1e-9)
	near(t, "of a drift beside it", j.drift, math.Exp(l.beside.over(l.steady)-change), 1e-9)
	if course != Drifts || len(j.at) != 1 {
		t.Errorf("%+v, runs as %v", j, course)
	}
}

// Changes beyond the likeliest two are sought beside those, in the whole record; what the others do without is none.
func TestSixJumps(t *testing.T) {
	const n = 200
	for seed := range uint64(6) {
		rnd := rand.New(rand.NewPCG(seed, 103))
		want, by := []int{}, []float64{}
		for k := range 6 {
			want = append(want, 15+30*k+rnd.IntN(14))
			by = append(by, (0.012+0.01*rnd.Float64())*float64(1-2*(k%2)))
		}
		got := find(signal{step: 0.3}.cycles(rnd, n, func(i int) (float64, float64) {
			f := 1.0
			for k, at := range want {
				if i >= at {
					f += by[k]
				}
			}
			return f, f
		}), 0, deepest)
		if len(got.Stretches) != 7 || got.Alike {
			t.Errorf("seed %d: %d stretches, alike %v, want 7 between %v", seed, len(got.Stretches), got.Alike, want)
			continue
		}
		for k, at := range want {
			if place := (got.Stretches[k].To + got.Stretches[k+1].From) / 2 / 148.4; !(math.Abs(place-float64(at)) <= 5) {
				t.Errorf("seed %d: a jump at cycle %.1f, is at %d", seed, place, at)
			}
		}
	}
}
