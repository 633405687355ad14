package lot

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// courseOf are boards that step, bend and swing by chance, and the plain sums over them.
type courseOf struct {
	points     []point
	dimensions int
	x          *mat.Dense
}

func someCourse(random *rand.Rand, n, dimensions int) *courseOf {
	c := &courseOf{dimensions: dimensions, x: mat.NewDense(n, dimensions, nil)}
	level, slope, swing := point{}, 0.1*random.NormFloat64(), 2*random.NormFloat64()
	for i := range n {
		if random.IntN(7) == 0 {
			level = point{4 * random.NormFloat64(), 4 * random.NormFloat64()}
		}
		run := slope*float64(i) + swing*math.Sin(float64(i)/4)
		a, b := random.NormFloat64(), random.NormFloat64()
		p := point{5 + level[0] + run + a, -3 + level[1] + 2*run + 0.7*a + 0.4*b}
		if dimensions == 1 {
			p[1] = 0
		}
		c.points = append(c.points, p)
		c.x.SetRow(i, p[:dimensions])
	}
	return c
}

// over is the ln of the determinant of what regression on some columns leaves over, per board (gonum's least squares), and the fit.
func (c *courseOf) over(columns ...[]float64) (float64, *mat.Dense) {
	n := len(c.points)
	design := mat.NewDense(n, len(columns), nil)
	for k, column := range columns {
		design.SetCol(k, column)
	}
	var beta, fit, rest, square mat.Dense
	if beta.Solve(design, c.x) != nil {
		return math.NaN(), nil
	}
	fit.Mul(design, &beta)
	rest.Sub(c.x, &fit)
	square.Mul(rest.T(), &rest)
	square.Scale(1/float64(n), &square)
	return math.Log(mat.Det(&square)), &fit
}

// column is a function of the boards' number.
func (c *courseOf) column(f func(i float64) float64) (out []float64) {
	for i := range c.points {
		out = append(out, f(float64(i)))
	}
	return out
}

// gain is how much likelier than a level a course with so many numbers is (Schwarz 1978).
func (c *courseOf) gain(numbers int, columns ...[]float64) (float64, *mat.Dense) {
	one := c.column(func(float64) float64 { return 1 })
	level, _ := c.over(one)
	left, fit := c.over(append(columns, one)...)
	n := float64(len(c.points))
	return n/2*(level-left) - float64(numbers)/2*math.Log(n), fit
}

// Straight and bent courses, and waves of up to twelve half swings, gain what regression on them does; the course of the waves is its fit.
func TestCoursesAreRegressions(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 81))
	for dimensions := 1; dimensions <= 2; dimensions++ {
		for _, n := range []int{8, 23, 60} {
			c := someCourse(random, n, dimensions)
			o := orderOf(c.points, dimensions)
			for _, k := range bends {
				shape, numbers := c.column(func(i float64) float64 { return math.Exp(k * i / float64(n)) }), dimensions+1
				if k == 0 {
					shape, numbers = c.column(func(i float64) float64 { return i }), dimensions
				}
				want, _ := c.gain(numbers, shape)
				near(t, "bend", o.bend(k), want, 1e-6)
			}
			var waves [][]float64
			most, course := math.Inf(-1), (*mat.Dense)(nil)
			for k := range min(12, n/4) {
				waves = append(waves, c.column(func(i float64) float64 { return math.Cos(math.Pi * float64(k+1) * (i + 0.5) / float64(n)) }))
				if gain, fit := c.gain((k+1)*dimensions, waves...); gain > most {
					most, course = gain, fit
				}
			}
			got, along := o.waves()
			near(t, "waves", got, most, 1e-6)
			mean, _ := momentsOf(c.points)
			for i, z := range along {
				p := point{course.At(i, 0) - mean[0]}
				if dimensions == 2 {
					p[1] = course.At(i, 1) - mean[1]
				}
				want := o.white.of(p)
				near(t, "along", z[0], want[0], 1e-6)
				near(t, "along", z[1], want[1], 1e-6)
			}
			smooth := max(0, got, o.wander())
			for _, k := range bends {
				smooth = max(smooth, o.bend(k))
			}
			near(t, "smooth", o.smooth(), smooth, 1e-12)
		}
	}
}

// The places of one, two … changes are those of all there are that leave the least squares, measured by what neighbours differ by; so many
// changes are told as gain the most over what chance does.
func TestChangesAgainstAllPlaces(t *testing.T) {
	random := rand.New(rand.NewPCG(19, 82))
	told := map[int]int{}
	for run := range 60 {
		n, dimensions := 12+random.IntN(8), 1+run%2
		c := someCourse(random, n, dimensions)
		steps := mat.NewSymDense(dimensions, nil) // of neighbours
		for i := range n - 1 {
			d := mat.NewVecDense(dimensions, nil)
			d.SubVec(c.x.RowView(i+1), c.x.RowView(i))
			steps.SymRankOne(steps, 1/float64(n-1), d)
		}
		var chol mat.Cholesky
		if !chol.Factorize(steps) {
			t.Fatal("neighbours do not differ")
		}
		groups := func(at []int) (columns [][]float64) {
			for g, from := range append([]int{0}, at...) {
				to := n
				if g < len(at) {
					to = at[g]
				}
				columns = append(columns, c.column(func(i float64) float64 {
					if i >= float64(from) && i < float64(to) {
						return 1
					}
					return 0
				}))
			}
			return columns
		}
		squares := func(from, to int) (sum float64) {
			mean := mat.NewVecDense(dimensions, nil)
			for i := from; i < to; i++ {
				mean.AddScaledVec(mean, 1/float64(to-from), c.x.RowView(i))
			}
			for i := from; i < to; i++ {
				var d, solved mat.VecDense
				d.SubVec(c.x.RowView(i), mean)
				if chol.SolveVecTo(&solved, &d) != nil {
					t.Fatal("no solution")
				}
				sum += mat.Dot(&d, &solved)
			}
			return sum
		}
		cost := map[[2]int]float64{}
		for from := range n {
			for to := from + 1; to <= n; to++ {
				cost[[2]int{from, to}] = squares(from, to)
			}
		}
		const least = 3
		var best func(from, changes int) (float64, []int)
		best = func(from, changes int) (float64, []int) {
			if changes == 0 {
				return cost[[2]int{from, n}], nil
			}
			sum, at := math.Inf(1), []int(nil)
			for to := from + least; to <= n-changes*least; to++ {
				if rest, more := best(to, changes-1); cost[[2]int{from, to}]+rest < sum {
					sum, at = cost[[2]int{from, to}]+rest, append([]int{to}, more...)
				}
			}
			return sum, at
		}
		o := orderOf(c.points, dimensions)
		got := o.places(least)
		last, _ := c.over(groups(nil)...)
		gain, most, likelier := 0.0, 0.0, 0.0
		var want []int
		for changes := 1; (changes+1)*least <= n; changes++ {
			_, at := best(0, changes)
			if changes > len(got) || !slices.Equal(got[changes-1], at) {
				t.Fatalf("%d boards: %d changes at %v, want %v", n, changes, got, at)
			}
			left, _ := c.over(groups(at)...)
			gain += last - left - byPlace(float64(dimensions), float64(n-changes-dimensions), 0.001/float64(n-(changes+1)*least+1))
			if gain > most {
				want, most = at, gain
				level, _ := c.over(groups(nil)...)
				likelier = float64(n)/2*(level-left) - float64(changes*(dimensions+2))/2*math.Log(float64(n))
			}
			last = left
		}
		if len(got) != n/least-1 {
			t.Errorf("%d boards: %d numbers of changes", n, len(got))
		}
		at, by := o.changes()
		if !slices.Equal(at, want) {
			t.Errorf("%d boards change at %v, want %v", n, at, want)
		}
		near(t, "likelier", by, likelier, 1e-6)
		told[len(at)]++
	}
	if told[0] < 3 || told[1] < 3 || told[2] < 3 {
		t.Errorf("changes told: %v", told)
	}
}

// A group more gains by chance what the F distribution says, of many boards chi-square.
func TestGainByChance(t *testing.T) {
	for _, c := range []struct{ dimensions, freedom, chance float64 }{{1, 7, 1e-4}, {2, 20, 1e-5}, {1, 1000, 1e-4}} {
		f := math.Expm1(byPlace(c.dimensions, c.freedom, c.chance)) * c.freedom / c.dimensions
		near(t, "risk", distuv.F{D1: c.dimensions, D2: c.freedom}.Survival(f)/c.chance, 1, 1e-6)
	}
	near(t, "risk", distuv.ChiSquared{K: 2}.Survival(byPlace(2, 1001, 1e-5)*1001)/1e-5, 1, 1e-6)
}

// Times that hardly scatter are made round like others, in any unit; times all on one line are not.
func TestRoundInAnyUnit(t *testing.T) {
	for _, unit := range []float64{1e-12, 1, 1e12} {
		if white, ok := whitener([3]float64{4 * unit, 1 * unit, 3 * unit}, 2); !ok {
			t.Errorf("in units of %g: not round", unit)
		} else {
			p := white.of(point{2 * math.Sqrt(unit), 0.5 * math.Sqrt(unit)})
			near(t, "first", p[0], 1, 1e-9)
			near(t, "second", p[1], 0, 1e-9)
		}
		if _, ok := whitener([3]float64{unit, unit, unit}, 2); ok {
			t.Errorf("in units of %g: a line is round", unit)
		}
	}
}

// A single pulse has no low time to compare.
func TestReadingsOfSinglePulses(t *testing.T) {
	row := &Row{Board: "lamp 1", Each: []Repeat{{Values: [5]float64{2e-3}}, {Values: [5]float64{3e-3}}}}
	if high, low := readings([]*Row{row}, 0), readings([]*Row{row}, 1); len(high) != 2 || len(low) != 0 || high[1].Value != math.Log(3e-3) {
		t.Errorf("%+v %+v", high, low)
	}
}
