package gauge

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Reading is one measured value of a board, with what may have moved it.
type Reading struct {
	Board, Station, Operator string
	Temperature              *float64 // °C; nil: not known
	Value                    float64  // a logarithm, so that effects are relative
}

// Effect is how one station or operator reads against the mean of all, or what a kelvin does.
type Effect struct {
	Factor      string     `json:"factor"` // station, operator, temperature
	Level       string     `json:"level,omitempty"`
	Bias        float64    `json:"bias"` // relative; of the temperature in 1/K
	Uncertainty float64    `json:"standard_uncertainty"`
	Interval95  [2]float64 `json:"interval95"`    // Student
	Significant bool       `json:"significant"`   // zero lies outside the interval, all levels of the factor taken together
	Within      bool       `json:"within_boards"` // each board compared with itself; else the boards' own scatter is in it
}

// Effects are the crossed effects of station and operator, beside the temperature as a covariate.
type Effects struct {
	All     []Effect
	Notes   []string
	PerK    float64 // relative, 0 where no temperature is known or it does not show
	Freedom float64 // degrees of freedom of the rest
}

// EffectsOf fits value = board + station + operator + slope × temperature by least squares. What single boards show, measured
// more than once, is taken from each board against itself; what they do not, from all boards, whose own scatter is then the
// noise. Factors that always go together are not told apart.
func EffectsOf(readings []Reading) Effects {
	var out Effects
	for _, within := range []bool{true, false} {
		d := newDesign(readings, within)
		if d == nil {
			continue
		}
		out.add(d, within)
	}
	return out
}

// design is the regression: columns of levels and of the temperature, with what they share with the boards' means, or with
// the mean of all, taken out.
type design struct {
	names   []Effect // of the columns
	normal  *mat.SymDense
	right   []float64
	total   float64 // sum of squares of the values
	n, lost float64 // readings; means taken out
	inverse *mat.Dense
	space   *mat.Dense // projection onto what the readings tell of
	rank    float64
}

func newDesign(readings []Reading, within bool) *design {
	d := &design{}
	column := map[[2]string]int{}
	for _, factor := range []string{"station", "operator"} {
		var levels []string
		for _, r := range readings {
			level := map[string]string{"station": r.Station, "operator": r.Operator}[factor]
			if level != "" && !slices.Contains(levels, level) {
				levels = append(levels, level)
			}
		}
		if len(levels) < 2 {
			continue
		}
		slices.Sort(levels)
		for _, l := range levels {
			column[[2]string{factor, l}] = len(d.names)
			d.names = append(d.names, Effect{Factor: factor, Level: l})
		}
	}
	warm := !slices.ContainsFunc(readings, func(r Reading) bool { return r.Temperature == nil })
	if warm {
		d.names = append(d.names, Effect{Factor: "temperature"})
	}
	p := len(d.names)
	if p == 0 || len(readings) < 3 {
		return nil
	}
	boards := map[string][]int{}
	var order []string
	for i, r := range readings {
		key := ""
		if within {
			key = r.Board
		}
		if boards[key] == nil {
			order = append(order, key)
		}
		boards[key] = append(boards[key], i)
	}
	row := func(i int) []float64 {
		x := make([]float64, p+1)
		r := &readings[i]
		for _, k := range [][2]string{{"station", r.Station}, {"operator", r.Operator}} {
			if j, ok := column[k]; ok {
				x[j] = 1
			}
		}
		if warm {
			x[p-1] = *r.Temperature
		}
		x[p] = r.Value
		return x
	}
	d.normal, d.right = mat.NewSymDense(p, nil), make([]float64, p)
	for _, key := range order {
		own := boards[key]
		mean := make([]float64, p+1)
		rows := make([][]float64, len(own))
		for k, i := range own {
			rows[k] = row(i)
			for j, v := range rows[k] {
				mean[j] += v / float64(len(own))
			}
		}
		for _, x := range rows {
			y := x[p] - mean[p]
			d.total += y * y
			for j := range p {
				d.right[j] += (x[j] - mean[j]) * y
				for l := range j + 1 {
					d.normal.SetSym(j, l, d.normal.At(j, l)+(x[j]-mean[j])*(x[l]-mean[l]))
				}
			}
		}
		d.n, d.lost = d.n+float64(len(own)), d.lost+1
	}
	if warm && d.normal.At(p-1, p-1) < leastSquares { // a temperature that hardly changes tells nothing
		for j := range p {
			d.normal.SetSym(p-1, j, 0)
		}
		d.right[p-1] = 0
	}
	return d.solve()
}

// leastSquares are kelvins squared about the mean, of all readings together (common practice).
const leastSquares = 1.0

// tiny is the share of the largest eigenvalue below which a direction is not told.
const tiny = 1e-9

// pseudo inverts a symmetric matrix in the directions that it tells of, onto which space projects; rank counts them.
func pseudo(m *mat.SymDense) (inverse, space *mat.SymDense, rank float64) {
	p := m.SymmetricDim()
	inverse, space = mat.NewSymDense(p, nil), mat.NewSymDense(p, nil)
	var e mat.EigenSym
	if !e.Factorize(m, true) {
		return inverse, space, 0
	}
	var vectors mat.Dense
	e.VectorsTo(&vectors)
	values := e.Values(nil)
	for k, v := range values {
		if v > tiny*values[p-1] {
			rank++
			inverse.SymRankOne(inverse, 1/v, vectors.ColView(k))
			space.SymRankOne(space, 1, vectors.ColView(k))
		}
	}
	return inverse, space, rank
}

// solve inverts what the readings tell of; nil where they tell of nothing.
func (d *design) solve() *design {
	p := len(d.names)
	scale := make([]float64, p) // so that kelvins and levels weigh alike
	for j := range scale {
		scale[j] = 1
		if v := d.normal.At(j, j); v > 0 {
			scale[j] = 1 / math.Sqrt(v)
		}
	}
	scaled := mat.NewSymDense(p, nil)
	for j := range p {
		for l := range j + 1 {
			scaled.SetSym(j, l, d.normal.At(j, l)*scale[j]*scale[l])
		}
	}
	inverse, space, rank := pseudo(scaled)
	d.inverse, d.space, d.rank = mat.NewDense(p, p, nil), mat.NewDense(p, p, nil), rank
	for j := range p {
		for l := range p {
			d.inverse.Set(j, l, inverse.At(j, l)*scale[j]*scale[l])
			d.space.Set(j, l, space.At(j, l)*scale[l]/scale[j])
		}
	}
	if d.rank == 0 || d.n-d.lost-d.rank < 1 {
		return nil
	}
	return d
}

// estimate is a combination of the columns, with its standard uncertainty; false where the readings do not tell it.
func (d *design) estimate(c []float64) (value, u float64, ok bool) {
	p := len(c)
	rest := d.total
	var told, size float64
	for j := range p {
		at := 0.0
		for l := range p {
			value += c[j] * d.inverse.At(j, l) * d.right[l]
			u += c[j] * d.inverse.At(j, l) * c[l]
			rest -= d.right[j] * d.inverse.At(j, l) * d.right[l]
			at += d.space.At(j, l) * c[l]
		}
		told, size = told+(at-c[j])*(at-c[j]), size+c[j]*c[j]
	}
	if told > 1e-9*size {
		return 0, 0, false
	}
	return value, math.Sqrt(max(u, 0) * max(rest, 0) / d.freedom()), true
}

func (d *design) freedom() float64 { return d.n - d.lost - d.rank }

// add takes what a design tells that is not told yet.
func (o *Effects) add(d *design, within bool) {
	for _, factor := range []string{"station", "operator", "temperature"} {
		if slices.ContainsFunc(o.All, func(e Effect) bool { return e.Factor == factor }) {
			continue
		}
		levels := 0.0
		for _, n := range d.names {
			if n.Factor == factor {
				levels++
			}
		}
		var found []Effect
		for j, n := range d.names {
			if n.Factor != factor {
				continue
			}
			c := make([]float64, len(d.names))
			for l, m := range d.names {
				if m.Factor == factor && factor != "temperature" {
					c[l] = -1 / levels
				}
			}
			c[j]++
			value, u, ok := d.estimate(c)
			if !ok {
				if !within && factor != "temperature" {
					o.Notes = append(o.Notes, "the "+factor+"s' differences are not told: each goes with another factor, or with none of the boards")
				}
				found = nil
				break
			}
			t := distuv.StudentsT{Sigma: 1, Nu: d.freedom()}
			n.Bias, n.Uncertainty, n.Within = value, u, within
			half := t.Quantile(0.975) * u
			n.Interval95 = [2]float64{value - half, value + half}
			n.Significant = math.Abs(value) > t.Quantile(1-0.025/levels)*u
			found = append(found, n)
		}
		if factor == "temperature" && len(found) == 1 {
			if found[0].Significant {
				o.PerK = found[0].Bias
			}
		}
		o.All = append(o.All, found...)
	}
	if within || o.Freedom == 0 {
		o.Freedom = d.freedom()
	}
}
