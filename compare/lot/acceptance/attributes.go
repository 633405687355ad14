package acceptance

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// AQLs are the acceptable quality limits of ISO 2859-1:1999 Tables 2-A to 2-C: percent nonconforming up to 10,
// nonconformities per 100 items above.
var AQLs = []float64{0.010, 0.015, 0.025, 0.040, 0.065, 0.10, 0.15, 0.25, 0.40, 0.65,
	1.0, 1.5, 2.5, 4.0, 6.5, 10, 15, 25, 40, 65, 100, 150, 250, 400, 650, 1000}

// Inspection is the severity of a plan. The empty one is normal.
type Inspection string

const (
	Normal    Inspection = "normal"
	Tightened Inspection = "tightened"
	Reduced   Inspection = "reduced"
)

// Inspections are the severities.
var Inspections = []Inspection{Normal, Tightened, Reduced}

// or is the inspection, normal where none was given.
func (i Inspection) or() Inspection {
	if i == "" {
		return Normal
	}
	return i
}

// letters are the rows of the tables; S is in the tightened one alone.
const letters = "ABCDEFGHJKLMNPQRS"

// An arrow stands where a cell holds no plan: use the first plan above or below.
const (
	up   = -1
	down = -2
)

// severity is one of the three tables. Its cells lie on diagonals: a step of one row down and one column right leaves
// n·AQL, and so the cell, as it is.
type severity struct {
	sizes []int // by row
	zero  int   // row plus column, both from 0, of the cells with Ac = 0
	rows  []diagonal
}

// diagonal holds the cells from Ac = 0 rightwards, for the rows up to and with the last one.
type diagonal struct {
	last  string // letter
	cells []int  // acceptance numbers and arrows
}

var severities = map[Inspection]severity{
	Normal: { // Table 2-A
		[]int{2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000}, 14,
		[]diagonal{{"E", []int{0, up, down, 1, 2, 3, 5, 7, 10, 14, 21, 30, 44}}, {"R", []int{0, up, down, 1, 2, 3, 5, 7, 10, 14, 21}}},
	},
	Tightened: { // Table 2-B
		[]int{2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000, 3150}, 15,
		[]diagonal{
			{"E", []int{0, down, down, 1, 2, 3, 5, 8, 12, 18, 27, 41}}, {"Q", []int{0, down, down, 1, 2, 3, 5, 8, 12, 18}},
			{"R", []int{0, up, down, 1, 2, 3, 5, 8, 12, 18}}, {"S", []int{down, down, down, 1}},
		},
	},
	Reduced: { // Table 2-C
		[]int{2, 2, 2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800}, 14,
		[]diagonal{
			{"A", []int{0, down, down, 1, 2, 3, 5, 7, 10, 14, 21, 30}}, {"B", []int{0, up, down, down, 1, 2, 3, 5, 7, 10, 14, 21, 30}},
			{"E", []int{0, up, down, down, 1, 2, 3, 5, 6, 8, 10, 14, 21}}, {"R", []int{0, up, down, down, 1, 2, 3, 5, 6, 8, 10}},
		},
	},
}

// at is the acceptance number in a cell, or an arrow.
func (s severity) at(row, column int) int {
	d := row + column - s.zero
	i := slices.IndexFunc(s.rows, func(r diagonal) bool { return row <= strings.Index(letters, r.last) })
	switch cells := s.rows[i].cells; {
	case d < 0:
		return down
	case d >= len(cells):
		return up
	default:
		return cells[d]
	}
}

// levels are the inspection levels of Table 1: the code letters by lot size, from the smallest.
var levels = map[string]string{
	"S-1": "AAAABBBBCCCCDDD",
	"S-2": "AAABBBCCCDDDEEE",
	"S-3": "AABBCCDDEEFFGGH",
	"S-4": "AABCCDEEFGGHJJK",
	"I":   "AABCCDEFGHJKLMN",
	"II":  "ABCDEFGHJKLMNPQ",
	"III": "BCDEFGHJKLMNPQR",
}

// lotSizes are the largest lots of Table 1's rows but the last, which has no end.
var lotSizes = []int{8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10000, 35000, 150000, 500000}

// Plan is a single sampling plan by attributes.
type Plan struct {
	Inspection Inspection
	Letter     string  // code letter of the plan used, arrows followed
	Size       int     // sample size n
	AQL        float64 // percent
	Accept     int     // Ac: accept with at most so many nonconforming
	Reject     int     // Re: reject with at least so many
	LotSize    int     // 0: not given
	All        bool    // the plan asks for the whole lot: n is the lot size
	How        string  // how the plan was found, for the reader
}

// Letter is the code letter for a lot size and inspection level (ISO 2859-1:1999 Table 1). An empty level is II.
func Letter(lotSize int, level string) (string, error) {
	return letterOf(levels, lotSizes, lotSize, level, "S-1, S-2, S-3, S-4, I, II or III")
}

// letterOf looks a lot size up in a table of letters by level, whose rows end with the given sizes.
func letterOf(levels map[string]string, ends []int, lotSize int, level, expected string) (string, error) {
	level = cmp.Or(level, "II")
	row, ok := levels[strings.ToUpper(level)]
	if !ok {
		return "", fmt.Errorf("unknown inspection level %q; expected %s", level, expected)
	}
	if lotSize < 2 {
		return "", fmt.Errorf("a lot of %d cannot be sampled; expected a lot size of 2 or more", lotSize)
	}
	i := 0
	for i < len(ends) && lotSize > ends[i] {
		i++
	}
	return row[i : i+1], nil
}

// ByLot finds the plan for a lot size, level, inspection and AQL in percent (ISO 2859-1:1999 Tables 1 and 2-A to 2-C).
// Arrows are followed, and the plan they lead to brings its own sample size; one that reaches the lot size means
// that every item is inspected.
func ByLot(lotSize int, level string, inspection Inspection, aql float64) (Plan, error) {
	letter, err := Letter(lotSize, level)
	if err != nil {
		return Plan{}, err
	}
	p, err := byLetter(letter, inspection, aql)
	if err != nil {
		return Plan{}, err
	}
	p.LotSize = lotSize
	if p.Size >= lotSize {
		p.Size, p.All = lotSize, true
		p.How += "; that reaches the lot size, so every item is inspected"
	}
	return p, nil
}

// BySample finds the largest plan at that AQL whose sample size the inspected items reach. It serves where the lot size
// is not known. Where they reach none, it returns the smallest plan there is, which then asks for more.
func BySample(inspected int, inspection Inspection, aql float64) (Plan, error) {
	column, err := columnOf(AQLs, aql, inspection)
	if err != nil {
		return Plan{}, err
	}
	table := severities[inspection.or()]
	var best Plan
	for row, size := range table.sizes {
		ac := table.at(row, column)
		if ac < 0 {
			continue
		}
		if best.Size > 0 && size > inspected {
			break
		}
		best = Plan{Inspection: inspection.or(), Letter: letters[row : row+1], Size: size, AQL: aql, Accept: ac, Reject: ac + 1}
	}
	best.How = fmt.Sprintf("lot size not given; plan by the number inspected: letter %s, n = %d", best.Letter, best.Size)
	return best, nil
}

// columnOf is the place of an AQL among those of a table; it fails for an inspection that is none, too.
func columnOf(all []float64, aql float64, i Inspection) (int, error) {
	column := slices.Index(all, aql)
	switch {
	case column < 0:
		return 0, fmt.Errorf("there is no plan for an AQL of %v %%; expected one of %s", aql, strings.Trim(fmt.Sprint(all), "[]"))
	case !slices.Contains(Inspections, i.or()):
		return 0, fmt.Errorf("unknown inspection %q; expected normal, tightened or reduced", string(i))
	}
	return column, nil
}

// byLetter follows the arrows from the letter's row to the first plan.
func byLetter(letter string, inspection Inspection, aql float64) (Plan, error) {
	column, err := columnOf(AQLs, aql, inspection)
	if err != nil {
		return Plan{}, err
	}
	table := severities[inspection.or()]
	row := strings.Index(letters, letter)
	how := "letter " + letter
	// An arrow is followed to the first plan its way; where the table ends before one is met (up from row A,
	// down from the last row), the nearest plan lies the other way.
	way := 1
	if table.at(row, column) == up {
		way = -1
	}
	for table.at(row, column) < 0 {
		if row+way < 0 || row+way == len(table.sizes) {
			way = -way
		}
		row += way
	}
	if used := letters[row : row+1]; used != letter {
		how += ", arrow to letter " + used
	}
	ac := table.at(row, column)
	return Plan{Inspection: inspection.or(), Letter: letters[row : row+1], Size: table.sizes[row], AQL: aql, Accept: ac, Reject: ac + 1, How: how}, nil
}

// tighter is the acceptance number of the plan of normal inspection one AQL step tighter, in the row of the plan that is
// in use; false where there is none.
func (p Plan) tighter() (ac int, ok bool) {
	column := slices.Index(AQLs, p.AQL)
	if column < 1 {
		return 0, false
	}
	ac = severities[Normal].at(strings.Index(letters, p.Letter), column-1)
	return ac, ac >= 0
}

// Tally is what was found in the sample.
type Tally struct {
	Inspected     int // items with a verdict, undecided ones among them
	Nonconforming int // surely out of the limits
	Unknown       int // undecided, or not measurable: may be either
}

// Decide gives the plan's verdict on the tally. Items whose verdict is open count both ways: the lot is
// accepted only if it would be with all of them nonconforming, rejected only if it would be with none. More
// items than the plan asks for are all counted, which is stricter than the plan.
func (p Plan) Decide(t Tally) (Result, string) {
	switch {
	case t.Nonconforming >= p.Reject:
		return Reject, fmt.Sprintf("%d nonconforming, rejection number %d", t.Nonconforming, p.Reject)
	case t.Inspected < p.Size:
		return Undecided, fmt.Sprintf("not enough boards: %d inspected, the plan asks for %d", t.Inspected, p.Size)
	case t.Nonconforming+t.Unknown > p.Accept:
		return Undecided, fmt.Sprintf("%d nonconforming and %d without a verdict; acceptance number %d", t.Nonconforming, t.Unknown, p.Accept)
	}
	return Accept, fmt.Sprintf("%d nonconforming, acceptance number %d", t.Nonconforming+t.Unknown, p.Accept)
}
