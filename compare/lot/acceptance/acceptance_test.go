package acceptance

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"offbeat/acquire/acquiretest/expect"
)

// lotIn gives the smallest and the largest lot of a row of ISO 2859-1 Table 1, such as "16-25".
func lotIn(t *testing.T, row string) []int {
	if row == "500001+" {
		return []int{500001, 3000000}
	}
	from, to, _ := strings.Cut(row, "-")
	return []int{int(expect.Number(t, from)), int(expect.Number(t, to))}
}

// ISO 2859-1:1999 Table 1, all cells, at both ends of each lot size.
func TestLetters(t *testing.T) {
	all := expect.Table(t, "iso2859_code_letters.csv")
	for _, row := range all[1:] {
		for i, want := range row[1:] {
			for _, size := range lotIn(t, row[0]) {
				if got, err := Letter(size, all[0][i+1]); err != nil || got != want {
					t.Errorf("lot %d, level %s: %s, %v; want %s", size, all[0][i+1], got, err, want)
				}
			}
		}
	}
	for _, bad := range []struct {
		size  int
		level string
	}{{1, "II"}, {100, "IV"}} {
		if _, err := Letter(bad.size, bad.level); err == nil {
			t.Errorf("%+v was accepted", bad)
		}
	}
}

// published are the tables of the three inspections, by attributes and by variables.
var published = []struct {
	inspection            Inspection
	attributes, variables string
}{
	{Normal, "iso2859_normal_single.csv", "mil_std_414_variables.csv"},
	{Tightened, "iso2859_tightened_single.csv", "mil_std_414_tightened.csv"},
	{Reduced, "iso2859_reduced_single.csv", "mil_std_414_reduced.csv"},
}

// ISO 2859-1:1999 Tables 2-A, 2-B and 2-C: every cell that holds a plan holds this one, and there are no others.
func TestTableCells(t *testing.T) {
	for _, p := range published {
		table := severities[p.inspection]
		want := map[[2]int]int{}
		for _, row := range expect.Rows(t, p.attributes) {
			column, err := columnOf(AQLs, expect.Number(t, row[2]), Normal)
			if err != nil {
				t.Fatal(err)
			}
			r := strings.Index(letters, row[0])
			if table.sizes[r] != int(expect.Number(t, row[1])) {
				t.Errorf("%s, letter %s: n = %d, want %s", p.inspection, row[0], table.sizes[r], row[1])
			}
			want[[2]int{r, column}] = int(expect.Number(t, row[3]))
		}
		for r := range table.sizes {
			for column, aql := range AQLs {
				ac := table.at(r, column)
				if w, plan := want[[2]int{r, column}]; plan != (ac >= 0) || plan && ac != w {
					t.Errorf("%s, letter %s, AQL %v: %d; published plan %v with Ac %d", p.inspection, letters[r:r+1], aql, ac, plan, w)
				}
			}
		}
	}
}

// The arrows of Tables 2-B and 2-C that the published files' heads spell out.
func TestArrowsOfOtherInspections(t *testing.T) {
	for _, c := range []struct {
		inspection Inspection
		letter     string
		aql        float64
		n, ac      int
	}{
		{Tightened, "Q", 0.025, 3150, 1}, {Tightened, "R", 0.025, 3150, 1}, // letter S, reached from Q and R
		{Tightened, "R", 0.015, 1250, 0},                             // up to Q
		{Reduced, "Q", 0.025, 200, 0}, {Reduced, "R", 0.025, 200, 0}, // up to N
		{Tightened, "J", 1.0, 80, 1}, {Reduced, "J", 1.0, 32, 1}, // the switching exercise's plans
	} {
		if p, err := byLetter(c.letter, c.inspection, c.aql); err != nil || p.Size != c.n || p.Accept != c.ac {
			t.Errorf("%+v: %+v, %v", c, p, err)
		}
	}
}

// The plans in use with the arrows followed, level II (resolved from ISO 2859-1 Tables 1 and 2-A).
func TestArrowsFollowed(t *testing.T) {
	all := expect.Table(t, "iso2859_resolved_level_II.csv")
	for _, row := range all[1:] {
		for i, want := range row[2:] {
			aql := expect.Number(t, strings.TrimPrefix(all[0][i+2], "aql_"))
			n, ac, _ := strings.Cut(want, "/")
			for _, size := range lotIn(t, row[0]) {
				p, err := ByLot(size, "", Normal, aql)
				if err != nil {
					t.Fatal(err)
				}
				wantSize, all := int(expect.Number(t, n)), false
				if wantSize >= size {
					wantSize, all = size, true
				}
				if p.Size != wantSize || p.All != all || p.Accept != int(expect.Number(t, ac)) || p.Reject != p.Accept+1 {
					t.Errorf("lot %d, AQL %v: %+v, want %s", size, aql, p, want)
				}
			}
		}
	}
}

// Every cell leads to a plan, also where the table's last row points down.
func TestArrowsEnd(t *testing.T) {
	for _, i := range Inspections {
		for _, l := range letters[:len(letters)-1] {
			for _, aql := range AQLs {
				if p, err := byLetter(string(l), i, aql); err != nil || p.Size == 0 {
					t.Errorf("%s, letter %c, AQL %v: %+v, %v", i, l, aql, p, err)
				}
			}
		}
	}
	if _, err := ByLot(500, "II", Normal, 1.1); err == nil {
		t.Error("an AQL between the columns was accepted")
	}
	if _, err := ByLot(500, "II", "strict", 1.0); err == nil {
		t.Error("an unknown inspection was accepted")
	}
}

func TestBySample(t *testing.T) {
	for _, c := range []struct {
		inspected int
		aql       float64
		n, ac     int
	}{
		{60, 1.0, 50, 1},    // ISO 2859-1 Table 2-A, column 1.0: 13/0, 50/1, 80/2, 125/3
		{80, 1.0, 80, 2},    //
		{49, 1.0, 13, 0},    // F and G hold arrows
		{5, 1.0, 13, 0},     // the smallest plan asks for more
		{5000, 10, 125, 21}, // column 10 ends with K
	} {
		p, err := BySample(c.inspected, "", c.aql)
		if err != nil || p.Size != c.n || p.Accept != c.ac {
			t.Errorf("%+v: %+v, %v", c, p, err)
		}
	}
}

func TestDecide(t *testing.T) {
	plan := Plan{Size: 80, Accept: 2, Reject: 3} // letter J, AQL 1.0
	for _, c := range []struct {
		name string
		t    Tally
		want Result
	}{
		{"at the acceptance number", Tally{80, 2, 0}, Accept},
		{"at the rejection number", Tally{80, 3, 0}, Reject},
		{"too few", Tally{79, 0, 0}, Undecided},
		{"too few, yet enough bad ones", Tally{10, 3, 0}, Reject},
		{"open verdicts could tip it", Tally{80, 2, 1}, Undecided},
		{"open verdicts cannot tip it", Tally{80, 0, 2}, Accept},
	} {
		if got, why := plan.Decide(c.t); got != c.want || why == "" {
			t.Errorf("%s: %s (%s), want %s", c.name, got, why, c.want)
		}
	}
}

// Operating characteristics of MIL-STD-105E Table X-J-1 and others, to the printed digits.
func TestOperatingCharacteristic(t *testing.T) {
	var f struct {
		J struct {
			Pa        []float64 `toml:"pa_percent"`
			Published []float64
		} `toml:"oc_letter_J_aql_1_0"`
		F struct {
			Pa       []float64 `toml:"pa_percent"`
			Computed []float64
		} `toml:"oc_letter_F_aql_0_65"`
		Zero struct {
			P1 []float64
			N  []int
		} `toml:"zero_acceptance"`
	}
	expect.Values(t, "sampling_oc_and_switching.toml", &f)
	check := func(p Plan, pa, want, unit float64) {
		t.Helper()
		if got := 100 * Quality(p, pa/100); !(math.Abs(got-want) <= unit) {
			t.Errorf("n %d Ac %d: accepted with %v %% at %.4f %%, want %v", p.Size, p.Accept, pa, got, want)
		}
	}
	for i, pa := range f.J.Pa { // three digits printed, one unit of the last
		digits := 2 - math.Floor(math.Log10(f.J.Published[i]))
		check(Plan{Size: 80, Accept: 2}, pa, f.J.Published[i], math.Pow(10, -digits))
	}
	for i, pa := range f.F.Pa {
		check(Plan{Size: 20}, pa, f.F.Computed[i], 0.001)
	}
	for i, p1 := range f.Zero.P1 { // the smallest n whose acceptance of p1 is 5 % or less
		n := f.Zero.N[i]
		if (Plan{Size: n}).Probability(p1) > 0.05 || (Plan{Size: n - 1}).Probability(p1) <= 0.05 {
			t.Errorf("Ac = 0, p1 = %v: %d is not the smallest n", p1, n)
		}
	}
}

// A sample drawn item by item is accepted as often as the curve says: 40 000 lots, five standard errors.
func TestCharacteristicBySimulation(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 1))
	const lots = 40000
	for _, c := range []struct {
		p        Plan
		fraction float64
	}{{Plan{Size: 80, Accept: 2}, 0.04}, {Plan{Size: 13}, 0.05}, {Plan{Size: 50, Accept: 1}, 0.01}} {
		accepted := 0
		for range lots {
			bad := 0
			for range c.p.Size {
				if random.Float64() < c.fraction {
					bad++
				}
			}
			if bad <= c.p.Accept {
				accepted++
			}
		}
		want := c.p.Probability(c.fraction)
		if got := float64(accepted) / lots; !(math.Abs(got-want) <= 5*math.Sqrt(want*(1-want)/lots)) {
			t.Errorf("%+v at %v: simulated %v, curve %v", c.p, c.fraction, got, want)
		}
	}
}

// n, M and k of MIL-STD-414 as collected, for the three inspections; k there was computed by another route and has three
// digits. One published cell (reduced, n = 7, AQL 0.25) prints M 1.06 where its twin of normal inspection prints 1.05:
// k is compared to 0.01, which is what k is good for.
func TestVariablesTable(t *testing.T) {
	for _, c := range published {
		all := expect.Rows(t, c.variables)
		if len(all) < 121 {
			t.Fatalf("%d published cells", len(all))
		}
		for _, row := range all {
			p, err := variablesPlan(strings.Index(variablesLetters, row[0]), c.inspection, expect.Number(t, row[2]))
			if err != nil {
				t.Fatal(err)
			}
			if p.Size != int(expect.Number(t, row[1])) || !(math.Abs(100*p.M-expect.Number(t, row[3])) <= 0.011) || !(math.Abs(p.K-expect.Number(t, row[4])) <= 0.01) {
				t.Errorf("%s %v: %+v", c.inspection, row, p)
			}
			if got := Nonconforming(p.K, p.Size); !(math.Abs(got-p.M) <= 1e-9) {
				t.Errorf("%v: a lot just at k is estimated at %v, M is %v", row, got, p.M)
			}
		}
	}
	if _, err := VariablesBySample(50, Normal, 0.065); err == nil {
		t.Error("an AQL without a plan was accepted")
	}
}

// ANSI/ASQ Z1.9 Table A-2, all cells, at both ends of each lot size; and the plan that the letter brings.
func TestVariablesLetters(t *testing.T) {
	var names []string
	for _, row := range expect.Table(t, "variables_code_letters.csv") {
		switch row[0] {
		case "Z1.9-head":
			names = row[2:]
		case "Z1.9":
			for i, want := range row[2:] {
				for _, size := range lotIn(t, row[1]) {
					p, err := VariablesByLot(size, names[i], Normal, 10)
					if err != nil || p.Letter != want || p.Size != variablesSizes[Normal][strings.Index(variablesLetters, want)] {
						t.Errorf("lot %d, level %s: %+v, %v; want %s", size, names[i], p, err, want)
					}
				}
			}
		}
	}
	if len(names) != 5 {
		t.Errorf("levels %v", names)
	}
	if _, err := VariablesByLot(500, "S-1", Normal, 1); err == nil {
		t.Error("a level without letters was accepted")
	}
}

// The acceptance of mean + k s <= limit is a one-sided tolerance statement, so the published tolerance factors
// fix points of the curve (95 % of items with confidence 95 %, as in every table of them; from memory, and met
// here by integration).
func TestVariablesCharacteristic(t *testing.T) {
	for _, c := range []struct {
		n                        int
		k, fraction, probability float64
	}{{5, 4.203, 0.05, 0.05}, {10, 2.911, 0.05, 0.05}, {20, 2.396, 0.05, 0.05}, {50, 2.065, 0.05, 0.05}} {
		got := VariablesPlan{Size: c.n, K: c.k}.Probability(c.fraction)
		if !(math.Abs(got/c.probability-1) <= 0.006) { // half of k's last digit moves it by up to 0.5 %
			t.Errorf("n %d, k %v: %v, want %v", c.n, c.k, got, c.probability)
		}
	}
	p, _ := VariablesBySample(20, Normal, 2.5)
	random := rand.New(rand.NewPCG(8, 2))
	const lots = 20000
	fraction, accepted := 0.06, 0
	limit := 1.5547735945968535 // normal quantile of 0.94
	for range lots {
		sum, squares := 0.0, 0.0
		for range p.Size {
			x := random.NormFloat64()
			sum += x
			squares += x * x
		}
		n := float64(p.Size)
		mean := sum / n
		sd := math.Sqrt((squares - n*mean*mean) / (n - 1))
		if p.Decide(p.Size, mean, sd, math.Inf(-1), limit).Result == Accept {
			accepted++
		}
	}
	want := p.Probability(fraction)
	if got := float64(accepted) / lots; !(math.Abs(got-want) <= 5*math.Sqrt(want*(1-want)/lots)) {
		t.Errorf("simulated %v, curve %v", got, want)
	}
}

func TestVariablesDecide(t *testing.T) {
	p, _ := VariablesBySample(20, Normal, 1.0) // k 1.826, M 2.93 %
	inf := math.Inf(1)
	for _, c := range []struct {
		name           string
		n              int
		mean, sd, l, h float64
		want           Result
	}{
		{"one limit, just in", 20, 0, 1, -inf, 1.83, Accept},
		{"one limit, just out", 20, 0, 1, -1.82, inf, Reject},
		{"two limits, each in, both together out", 20, 0, 1, -1.9, 1.9, Reject},
		{"two limits, well in", 20, 0, 1, -2.5, 2.5, Accept},
		{"too few", 6, 0, 1, -9, 9, Undecided},
		{"no spread at all", 20, 0, 0, -9, 9, Undecided},
	} {
		if got := p.Decide(c.n, c.mean, c.sd, c.l, c.h); got.Result != c.want {
			t.Errorf("%s: %+v, want %s", c.name, got, c.want)
		}
	}
}

// The two exercises of the published file, executed there with ISO 2859-1's tables: letter J, AQL 1.0.
func TestSwitchingExercises(t *testing.T) {
	var f struct {
		Score struct {
			Nonconforming []int
			After         []int `toml:"score_after"`
			Reduced       int   `toml:"reduced_from_lot"`
		} `toml:"exercise"`
		Tightened struct {
			Nonconforming []int
			State         []string
			Accepted      []bool
		} `toml:"exercise_tightened"`
	}
	expect.Values(t, "iso2859_switching.toml", &f)
	s := Begin("")
	for i, n := range f.Score.Nonconforming {
		p, err := ByLot(1000, "", s.Inspection, 1.0)
		if err != nil {
			t.Fatal(err)
		}
		if s.ReducedAllowed() {
			t.Errorf("reduced inspection is allowed before lot %d", i+1)
		}
		if s.Attributes(p, n); s.Score != f.Score.After[i] {
			t.Errorf("lot %d: score %d, want %d", i+1, s.Score, f.Score.After[i])
		}
	}
	if !s.ReducedAllowed() || f.Score.Reduced != len(f.Score.Nonconforming)+1 {
		t.Errorf("lot %d: score %d does not allow reduced inspection", f.Score.Reduced, s.Score)
	}
	s = Begin(Normal)
	for i, n := range f.Tightened.Nonconforming {
		p, err := ByLot(1000, "", s.Inspection, 1.0)
		if err != nil {
			t.Fatal(err)
		}
		result, _ := p.Decide(Tally{p.Size, n, 0})
		if strings.ToUpper(string(s.Inspection[:1])) != f.Tightened.State[i] || (result == Accept) != f.Tightened.Accepted[i] {
			t.Errorf("lot %d: %s, %s; want %s, accepted %v", i+1, s.Inspection, result, f.Tightened.State[i], f.Tightened.Accepted[i])
		}
		s.Attributes(p, n)
	}
}

func TestSwitching(t *testing.T) {
	for _, c := range []struct {
		from  Inspection
		lots  string // A accepted, N not
		state Inspection
		stops bool
	}{
		{Normal, "AAAAA", Normal, false}, {Normal, "N", Normal, false}, {Normal, "NAAAAN", Normal, false}, {Normal, "NAAAN", Tightened, false},
		{Normal, "NN", Tightened, false}, {Normal, "NNAAAA", Tightened, false}, {Normal, "NNAAAAA", Normal, false}, {Normal, "NNAAAAAN", Normal, false},
		{Tightened, "NANANAN", Tightened, false}, {Tightened, "NANANANN", Tightened, true}, // five in all, not in a row
		{Tightened, "NNNNNAAAAA", Tightened, true},
		{Reduced, "AAA", Reduced, false}, {Reduced, "AN", Normal, false},
	} {
		s := Begin(c.from)
		for _, l := range c.lots {
			s.Variables(l == 'A')
		}
		if s.Inspection != c.state || s.Discontinued != c.stops || s.Advice(false) == "" {
			t.Errorf("%s %s: %+v", c.from, c.lots, s)
		}
	}
}

// With Ac 0 or 1 the score rises by two a lot, so that fifteen accepted lots allow reduced inspection; leaving normal
// inspection loses it (ISO 2859-1 9.3.3.2).
func TestScoreOfSmallPlans(t *testing.T) {
	p, err := ByLot(500, "", Normal, 1.0) // H: 50/1
	if err != nil || p.Accept != 1 {
		t.Fatal(p, err)
	}
	s := Begin(Normal)
	for i := range 15 {
		if s.ReducedAllowed() {
			t.Errorf("allowed after %d lots", i)
		}
		s.Attributes(p, i%2)
	}
	if s.Score != 30 || !s.ReducedAllowed() {
		t.Errorf("score %d", s.Score)
	}
	s.Attributes(p, 2)
	s.Attributes(p, 2)
	if s.Inspection != Tightened || s.Score != 0 {
		t.Errorf("%+v", s)
	}
}

func TestCurveFalls(t *testing.T) {
	p, _ := VariablesBySample(50, Normal, 1.0)
	for _, plan := range []accepter{Plan{Size: 80, Accept: 2}, p} {
		c := Characteristic(plan, 41)
		if c.Fraction[0] != 0 || c.Probability[0] != 1 || c.Probability[40] > 0.0021 {
			t.Errorf("ends: %v %v", c.Probability[0], c.Probability[40])
		}
		if !slices.IsSortedFunc(c.Probability, func(a, b float64) int { return int(math.Copysign(1, b-a)) }) {
			t.Errorf("not falling: %v", c.Probability)
		}
		if r := RisksOf(plan); !(r.Producer < r.Consumer) {
			t.Errorf("%+v", r)
		}
	}
}
