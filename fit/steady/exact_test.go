package steady

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// near holds a number to what it ought to be, within a share of that.
func near(got, want, share float64) bool { return math.Abs(got-want) <= share*math.Abs(want) }

// series is the least-squares residual of a harmonic series beside a straight line, by dense linear algebra, and how many of its
// numbers are independent; harmonics within combSeen turns of a whole frequency show as slow ones and are none.
func series(v []float64, f float64, harmonics int) (left []float64, used int) {
	n := len(v)
	columns := [][]float64{make([]float64, n), make([]float64, n)}
	for i := range v {
		columns[0][i], columns[1][i] = 1, float64(i)/float64(n)
	}
	for h := 1; h <= harmonics; h++ {
		g := f * float64(h)
		if math.Abs(g-math.Round(g))*float64(n) < combSeen {
			continue
		}
		cos, sin := make([]float64, n), make([]float64, n)
		for i := range v {
			sin[i], cos[i] = math.Sincos(2 * math.Pi * g * float64(i))
		}
		columns = append(columns, cos, sin)
	}
	design := mat.NewDense(n, len(columns), nil)
	for k, c := range columns {
		design.SetCol(k, c)
	}
	var svd mat.SVD
	svd.Factorize(design, mat.SVDThin)
	rank := svd.Rank(1e-6)
	var u mat.Dense
	svd.UTo(&u)
	left = slices.Clone(v)
	for k := range rank {
		col := mat.Col(nil, k, &u)
		floats.AddScaled(left, -floats.Dot(col, left), col)
	}
	return left, rank - 2
}

// A comb is the harmonic series that leaves least: its chance is Fisher's by dense least squares, times twice the frequencies that are
// looked at and where other noise is louder rarer by so much; its mean square and what is left follow from the same residual.
func TestCombAgainstLeastSquares(t *testing.T) {
	missed, found := 0, 0
	for seed := range uint64(48) {
		rnd := rand.New(rand.NewPCG(seed, 21))
		n := []int{24, 33, 48, 61, 100, 128}[seed%6]
		f := (3.2 + rnd.Float64()*float64(n)/2.2) / float64(n)
		v := make([]float64, n)
		a, b, p, q := 0.3+rnd.Float64(), 1.2*rnd.Float64(), 6*rnd.Float64(), 6*rnd.Float64()
		for i := range v {
			x := 2 * math.Pi * f * float64(i)
			v[i] = a*math.Sin(x+p) + b*math.Sin(2*x+q) + 0.2*math.Sin(3*x+p*q) + 0.2*rnd.NormFloat64()
		}
		got := findComb(v, false)
		if got.every == 0 {
			continue
		}
		found++
		flat, _ := series(v, 0, 0)
		total := floats.Dot(flat, flat)
		fits, f := false, math.Round(8*float64(n)/got.every)/float64(8*n)
		for _, harmonics := range []int{2, 4} {
			left, used := series(v, f, harmonics)
			free := float64(n - 2 - used)
			within := floats.Dot(left, left)
			x := (total - within) / float64(used) / (within / free) / loudness(left, f, harmonics)
			chance := distuv.F{D1: float64(used), D2: free}.Survival(x) * 2 * float64(4*n+1-24)
			if near(got.rest, within/free, 1e-6) && near(got.square, (total-within/free*float64(n-2))/float64(n), 1e-6) && (chance < 1e-9 || near(got.chance, chance, 1e-4)) {
				fits = true
				for k := 24; k <= 4*n && n < 60; k++ {
					if r, _ := without(flat, float64(k)/float64(8*n), harmonics); floats.Dot(r, r) < within*(1-1e-9) {
						missed++
						break
					}
				}
			}
		}
		if !fits {
			t.Errorf("seed %d, %d values: %+v is no least-squares fit", seed, n, got)
		}
	}
	if found < 36 || missed > found/8 {
		t.Errorf("of 48 combs %d were found, and another series leaves less in %d", found, missed)
	}
}

// A comb of as many values or of as slow a recurrence as is just looked at is found, and named exactly; beyond it is not.
func TestCombAtItsLimits(t *testing.T) {
	comb := func(n int, every float64, harmonics ...int) []float64 {
		v := make([]float64, n)
		for i := range v {
			for _, h := range harmonics {
				v[i] += math.Cos(2*math.Pi*float64(h)*(float64(i)-float64(n-1)/2)/every+0.4*float64(h-1)) / float64(h)
			}
		}
		return v
	}
	for _, c := range []struct {
		name  string
		v     []float64
		every float64
	}{
		{"the fewest values", comb(fewestFold, 12/3.5, 1, 2), 12 / 3.5}, {"fewer", comb(fewestFold-1, 11/3.5, 1, 2), 0},
		{"the most values", comb(shortFold, 8, 1, 2), 8}, {"more", comb(shortFold+1, 8, 1, 2), 0},
		{"three turns", comb(64, 64./3, 1, 2), 64. / 3}, {"two turns", comb(64, 32, 1), 0},
		{"four harmonics of 24 values", comb(24, 6.4, 1, 3, 4), 6.4}, {"nothing", make([]float64, 40), 0},
	} {
		got := findComb(c.v, false)
		if !near(got.every, c.every, 1e-12) {
			t.Errorf("%s: every %g, want %g", c.name, got.every, c.every)
		}
		for i := range c.v { // and in another unit
			c.v[i] *= 1e-6
		}
		if other := findComb(c.v, false); other.every != got.every || !near(other.square, 1e-12*got.square, 1e-6) || got.every > 0 && other.rest > 1e-11*other.square {
			t.Errorf("%s: in another unit %+v, not %+v", c.name, other, got)
		}
	}
	if got := findComb(comb(23, 23./3, 3, 4), false); got.every != 0 && near(got.every, 23./3, 0.05) {
		t.Errorf("four harmonics of 23 values: %+v", got)
	}
}

// Noise is as loud at a comb's harmonics as the loudest of those that are no slow ones, against the mean of its background.
func TestLoudnessIsOfTheHarmonics(t *testing.T) {
	for seed := range uint64(20) {
		rnd := rand.New(rand.NewPCG(seed, 22))
		v, x := make([]float64, 90), 0.0
		for i := range v {
			x = 0.7*x + rnd.NormFloat64()
			v[i] = x
		}
		s := newSpectrum([][]float64{v})
		f, harmonics, want := 0.5*rnd.Float64(), 1+rnd.IntN(4), 1.0
		if seed == 0 {
			f = 3.0 / 90 // as slow as is just none
		}
		for h := 1; h <= harmonics; h++ {
			g := math.Mod(f*float64(h), 1)
			if g = min(g, 1-g); g*90 >= 3-1e-12 {
				want = max(want, s.under[max(int(math.Round(g*180)), from)]/stat.Mean(s.under[from:], nil))
			}
		}
		if got := loudness(v, f, harmonics); !near(got, want, 1e-12) {
			t.Errorf("seed %d: %g, want %g", seed, got, want)
		}
	}
	if got := loudness(make([]float64, 40), 0.2, 2); got != 1 {
		t.Errorf("nothing is %g times as loud", got)
	}
}

// The chance of a pattern, whole or in a short record of any length, is Fisher's for the scatter between its places over that within, over
// how loud noise is at its harmonics, times the patterns that are looked at; its mean square is what is beyond that of the noise.
func TestPatternsOfAnyLengthAgainstFisher(t *testing.T) {
	for seed := range uint64(60) {
		rnd := rand.New(rand.NewPCG(seed, 23))
		n := []int{12, 13, 30, 47, 128, 129, 300}[seed%7]
		true_ := []float64{2, 3, 2.5, 5, 7, 3.4}[seed%6]
		v := make([]float64, n)
		for i := range v {
			v[i] = 1e-3 * (rnd.NormFloat64() + float64(seed%5)*math.Copysign(1, math.Mod(float64(i)/true_, 1)-0.45))
		}
		lists := [][]float64{v, v[:7]} // the second is too short for any
		s := flat(n, 1)
		for i := range s.under {
			if s.under[i] = 0.5 + rnd.Float64(); rnd.IntN(12) == 0 || i == from {
				s.under[i] *= 4
			}
		}
		var lengths []float64
		for every := 2; every <= 16 && 4*every <= n; every++ {
			lengths = append(lengths, float64(every))
		}
		for k := 24; n <= 128 && 2*k < 6*n; k++ {
			lengths = append(lengths, 6*float64(n)/float64(k))
		}
		straight, _ := series(v, 0, 0)
		want := tone{chance: 1}
		most := 0.0
		type found struct{ every, square, rest float64 }
		var all []found
		for _, every := range lengths {
			groups := map[int][]float64{}
			for i, x := range straight {
				_, place := math.Modf(float64(i)/every + 1e-9)
				k := int(place * math.Floor(every))
				if every > 16 {
					k = int(place * 16)
				}
				groups[k] = append(groups[k], x)
			}
			between, within := 0.0, 0.0
			for _, g := range groups {
				m := stat.Mean(g, nil)
				between += float64(len(g)) * m * m
				within += float64(len(g)) * stat.PopVariance(g, nil)
			}
			loud := 1.0
			for k := 1; k == 1 || k < int(every) && k < 16; k++ {
				g := math.Mod(float64(k)/every, 1)
				loud = max(loud, s.under[max(from, int(math.Round(min(g, 1-g)*2*float64(n))))]/stat.Mean(s.under[from:], nil))
			}
			a, b := float64(len(groups)-1), float64(n-len(groups)-1)
			chance := distuv.F{D1: a, D2: b}.Survival(between/a/(within/b)/loud) * float64(len(lengths))
			want.chance = min(want.chance, chance)
			if chance < lineChance {
				all = append(all, found{every, (between - within*a/b) / (a + b), within / b})
				most = max(most, all[len(all)-1].square)
			}
		}
		for _, f := range all {
			if f.square > most/ordered && (want.every == 0 || f.every < want.every) {
				want.every, want.square, want.rest = f.every, f.square, f.rest
			}
		}
		got := findPattern(lists, &s)
		if want.every > 0 {
			want.width = 1 / (12 * float64(n))
		}
		if !near(got.every, want.every, 1e-12) || !near(got.square, want.square, 1e-6) || !near(got.rest, want.rest, 1e-6) || got.width != want.width || want.every == 0 && !near(got.chance, want.chance, 1e-5) {
			t.Errorf("seed %d, %d values: %+v, by analysis of variance %+v", seed, n, got, want)
		}
	}
	v := make([]float64, 96)
	for i := range v {
		v[i] = 1e-8 * []float64{1, 2, -5, 2}[i%4]
	}
	s := flat(96, 1)
	if got := findPattern([][]float64{v}, &s); got.every != 4 || got.rest > 1e-3*got.square {
		t.Errorf("a pattern of four without noise, in a small unit: %+v", got)
	}
	if got := findPattern([][]float64{v[:11]}, &s); got != (tone{}) {
		t.Errorf("of eleven values %+v", got)
	}
	for n, want := range map[int]bool{19: false, 20: true} {
		if _, _, _, b := fold([][]float64{v[:n]}, 5); (b > 0) != want {
			t.Errorf("%d values fall into five places: %v", n, b > 0)
		}
	}
}

// Slow patterns are looked for in means of as few neighbours as a short record allows.
func TestSlowPatternsInMeans(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 24))
	for n, group := range map[int]int{128: 0, 129: 2, 256: 2, 257: 3, 1536: 12} {
		v := make([]float64, n)
		for i := range v {
			v[i] = math.Copysign(1, math.Sin(2*math.Pi*float64(i)*10/float64(n)+0.1)) + 0.1*rnd.NormFloat64()
		}
		got := findSlow([][]float64{v})
		if group == 0 {
			if got != (tone{}) {
				t.Errorf("of %d values %+v", n, got)
			}
			continue
		}
		means := n / group
		finest := min(0.5/float64(6*means)/float64(group), 0.5/float64(8*means)/float64(group))
		if !near(got.every, float64(n)/10, 0.1) || got.width < finest*0.999 || got.width > finest*1.4 {
			t.Errorf("of %d values: every %g to within %g, want %g within %g", n, got.every, got.width, float64(n)/10, finest)
		}
	}
}

// A spectrum is of the lists that are nine tenths as long as the longest, and twelve values; a single value has no slope; a long list has
// its lines too.
func TestSpectrumOfWhatIsLongEnough(t *testing.T) {
	for n, want := range map[int]int{35: 1, 36: 2} {
		if s := newSpectrum([][]float64{make([]float64, 40), make([]float64, n)}); s.lists != want {
			t.Errorf("of lists of 40 and %d values %d count", n, s.lists)
		}
	}
	if s := newSpectrum([][]float64{make([]float64, 11)}); s.lists != 0 || s.total != 0 {
		t.Errorf("eleven values: %+v", s)
	}
	if v := detrended([]float64{5}); v[0] != 0 {
		t.Errorf("one value about itself: %v", v)
	}
	rnd := rand.New(rand.NewPCG(1, 25))
	long := make([]float64, fitted+200)
	for i := range long {
		long[i] = rnd.NormFloat64() + math.Sin(2*math.Pi*float64(i)/9)
	}
	s := newSpectrum([][]float64{long})
	if f := findLine(&s); !near(f.every, 9, 0.002) || !near(f.square, 0.5, 0.3) || !near(stat.Mean(s.under[from:], nil), 1, 0.2) {
		t.Errorf("a sine every 9 of %d values: %+v", len(long), f)
	}
}

// Which of two lines is named: a line of just half the power is none, nor one that is no line by itself; of twins the slower.
func TestWhichLineIsNamed(t *testing.T) {
	for _, c := range []struct {
		name  string
		n     int
		power map[int]float64
		every float64
	}{
		{"just half as strong", 100, map[int]float64{40: 50, 80: 100}, 2.5},
		{"more than half, and no line by itself", 60, map[int]float64{10: 11, 20: 20}, 6},
		{"twins", 100, map[int]float64{39: 100, 40: 100}, 200. / 39},
		{"twins at the edge of drifts", 100, map[int]float64{from - 1: 100, from: 100}, 200 / float64(from)},
		{"the fewest values", fewest, map[int]float64{12: 100}, 4},
	} {
		s := flat(c.n, 1)
		for i, p := range c.power {
			s.power[i] = p
		}
		if got := findLine(&s); got.every != c.every {
			t.Errorf("%s: every %g, want %g", c.name, got.every, c.every)
		}
	}
}
