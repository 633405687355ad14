package acceptance

import (
	"fmt"
	"strings"
)

// AQLs are the acceptable quality limits of ISO 2859-1:1999 Table 2-A: percent nonconforming up to 10,
// nonconformities per 100 items above.
var AQLs = []float64{0.010, 0.015, 0.025, 0.040, 0.065, 0.10, 0.15, 0.25, 0.40, 0.65,
	1.0, 1.5, 2.5, 4.0, 6.5, 10, 15, 25, 40, 65, 100, 150, 250, 400, 650, 1000}

// letters and sizes are the rows of Table 2-A.
const letters = "ABCDEFGHJKLMNPQR"

var sizes = []int{2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000}

// The cells of Table 2-A lie on diagonals: a step of one row down and one column right leaves n*AQL, and so
// the cell, as it is. Counted from the diagonal of Ac = 0 the columns to the right hold:
var diagonal = []cell{{ac: 0}, {up: true}, {down: true}, {ac: 1}, {ac: 2}, {ac: 3}, {ac: 5}, {ac: 7}, {ac: 10}, {ac: 14}, {ac: 21}, {ac: 30}, {ac: 44}}

const (
	zeroDiagonal = 14 // row plus column, both from 0, of the cells with Ac = 0
	longRows     = 5  // rows A to E go on to Ac 30 and 44, the others end at 21
)

type cell struct {
	ac       int
	up, down bool // an arrow: use the first plan above or below
}

func at(row, column int) cell {
	d := row + column - zeroDiagonal
	last := len(diagonal) - 1
	if row >= longRows {
		last -= 2
	}
	switch {
	case d < 0:
		return cell{down: true}
	case d > last:
		return cell{up: true}
	}
	return diagonal[d]
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

// Plan is a single sampling plan by attributes, normal inspection.
type Plan struct {
	Letter  string  // code letter of the plan used, arrows followed
	Size    int     // sample size n
	AQL     float64 // percent
	Accept  int     // Ac: accept with at most so many nonconforming
	Reject  int     // Re: reject with at least so many
	LotSize int     // 0: not given
	All     bool    // the plan asks for the whole lot: n is the lot size
	How     string  // how the plan was found, for the reader
}

// Letter is the code letter for a lot size and inspection level (ISO 2859-1:1999 Table 1). An empty level is II.
func Letter(lotSize int, level string) (string, error) {
	if level == "" {
		level = "II"
	}
	row, ok := levels[strings.ToUpper(level)]
	if !ok {
		return "", fmt.Errorf("unknown inspection level %q; expected S-1, S-2, S-3, S-4, I, II or III", level)
	}
	if lotSize < 2 {
		return "", fmt.Errorf("a lot of %d cannot be sampled; expected a lot size of 2 or more", lotSize)
	}
	i := 0
	for i < len(lotSizes) && lotSize > lotSizes[i] {
		i++
	}
	return row[i : i+1], nil
}

// ByLot finds the plan for a lot size, level and AQL in percent (ISO 2859-1:1999 Tables 1 and 2-A). Arrows
// are followed, and the plan they lead to brings its own sample size; one that reaches the lot size means
// that every item is inspected.
func ByLot(lotSize int, level string, aql float64) (Plan, error) {
	letter, err := Letter(lotSize, level)
	if err != nil {
		return Plan{}, err
	}
	p, err := byLetter(letter, aql)
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

// BySample finds the largest plan of Table 2-A at that AQL whose sample size the inspected items reach. It
// serves where the lot size is not known. Where they reach none, it returns the smallest plan there is, which
// then asks for more.
func BySample(inspected int, aql float64) (Plan, error) {
	column, err := columnOf(aql)
	if err != nil {
		return Plan{}, err
	}
	var best Plan
	for row, size := range sizes {
		c := at(row, column)
		if c.up || c.down {
			continue
		}
		if best.Size > 0 && size > inspected {
			break
		}
		best = Plan{Letter: letters[row : row+1], Size: size, AQL: aql, Accept: c.ac, Reject: c.ac + 1}
	}
	best.How = fmt.Sprintf("lot size not given; plan by the number inspected: letter %s, n = %d", best.Letter, best.Size)
	return best, nil
}

func columnOf(aql float64) (int, error) {
	for i, a := range AQLs {
		if a == aql {
			return i, nil
		}
	}
	return 0, fmt.Errorf("AQL %v %% is not in ISO 2859-1 Table 2-A; expected one of %s", aql, strings.Trim(fmt.Sprint(AQLs), "[]"))
}

// byLetter follows the arrows from the letter's row to the first plan.
func byLetter(letter string, aql float64) (Plan, error) {
	column, err := columnOf(aql)
	if err != nil {
		return Plan{}, err
	}
	row := strings.Index(letters, letter)
	how := "letter " + letter
	// An arrow is followed to the first plan its way; where the table ends before one is met (up from row A,
	// down from row R), the nearest plan lies the other way.
	way := 0
	for c := at(row, column); c.up || c.down; c = at(row, column) {
		if way == 0 {
			way = 1
			if c.up {
				way = -1
			}
		}
		if row+way < 0 || row+way == len(sizes) {
			way = -way
		}
		row += way
	}
	if used := letters[row : row+1]; used != letter {
		how += ", arrow to letter " + used
	}
	c := at(row, column)
	return Plan{Letter: letters[row : row+1], Size: sizes[row], AQL: aql, Accept: c.ac, Reject: c.ac + 1, How: how}, nil
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
