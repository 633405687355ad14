package lot

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"offbeat/acquire/quantity"
	"os"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Duplicate is something that a lot lists twice, or under a wrong name. Nothing of it is averaged.
type Duplicate struct {
	Kind     string   `json:"kind"` // one of the constants below
	Boards   []string `json:"boards"`
	Captures []string `json:"captures"`
	Detail   string   `json:"detail"`
}

const (
	ListedTwice = "listed twice"                    // one capture of one board, twice
	OneCapture  = "one capture, several boards"     // the same bytes under several names
	OneName     = "one name, several unlike boards" // captures of one board that cannot be of one board
)

// Digest is the SHA-256 of a file, hexadecimal. It fails for what is no plain file: a pipe is gone once it was read.
func Digest(name string) (string, error) {
	switch i, err := os.Stat(name); {
	case err != nil:
		return "", err
	case !i.Mode().IsRegular():
		return "", fmt.Errorf("%s is no plain file", name)
	}
	f, err := os.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// Identify fills in the digests of the board's captures, "" for one that cannot be read, and strikes out copies of a
// capture that the board has already: a copy tells nothing of how well a capture repeats.
func (b *Board) Identify() {
	if b.Digests != nil {
		return
	}
	captures := b.Captures
	b.Captures, b.Digests = nil, make([]string, 0, len(captures))
	for _, e := range captures {
		digest, err := Digest(e.Capture)
		if err != nil {
			digest = "" // reading the capture will say why
		}
		if i := slices.Index(b.Digests, digest); i >= 0 && digest != "" {
			b.Copies = append(b.Copies, b.copied(e.Capture, b.Captures[i].Capture))
			continue
		}
		b.Captures, b.Digests = append(b.Captures, e), append(b.Digests, digest)
	}
}

func (b *Board) copied(again, first string) Duplicate {
	detail := fmt.Sprintf("%s: %s is listed twice; it counts once", b.Name, first)
	names := []string{first}
	if again != first {
		detail, names = fmt.Sprintf("%s: %s is a copy of %s; it counts once", b.Name, again, first), append(names, again)
	}
	return Duplicate{ListedTwice, []string{b.Name}, names, detail}
}

// shared says whose capture a board brings that another brought before it; the board has none of its own then.
func (c *Collector) shared(b *Board) error {
	for i, digest := range b.Digests {
		if digest == "" {
			continue
		}
		first, ok := c.digests[digest]
		if !ok {
			c.digests[digest] = owner{b.Name, b.Lot, b.Captures[i].Capture}
			continue
		}
		if first.board == b.Name && first.lot == b.Lot {
			continue
		}
		detail := fmt.Sprintf("%s of %s is the same capture as %s of %s: which of the two boards it shows is not known", b.Captures[i].Capture, b.Name, first.capture, first.board)
		c.duplicates = append(c.duplicates, Duplicate{OneCapture, []string{first.board, b.Name}, []string{first.capture, b.Captures[i].Capture}, detail})
		return fmt.Errorf("%s", detail)
	}
	return nil
}

// owner is who brought a capture first.
type owner struct{ board, lot, capture string }

// How far captures of one board may lie apart (common practice).
const (
	unlikeRisk   = 1e-4   // of calling any lot's board unlike itself where it is not
	unlikeLeast  = 0.005  // of a time: what boards of one kind differ by, and one board should not
	perKelvin    = 500e-6 // how much a board may follow its temperature
	beyondOthers = 100    // times the variance of the other boards' repeats is too much, however few they are
)

// unlike takes out the boards whose captures cannot be of one board: they scatter far more than the other boards' repeats
// and than their stated uncertainty, clocks and temperatures allow. The one that stands out most goes first.
func (c *Collector) unlike() {
	type repeated struct {
		row     *Row
		freedom float64
		squares [2]float64 // about the board's mean, of ln high and ln low
		allowed [2]float64 // variance that the captures' own uncertainty and conditions allow
	}
	var all []repeated
	for i := range c.rows {
		row := &c.rows[i]
		if !row.Judged() || len(row.Each) < 2 {
			continue
		}
		r := repeated{row: row, freedom: float64(len(row.Each) - 1)}
		for k := range r.squares {
			r.squares[k], r.allowed[k] = row.scatter(k, c.clock)
		}
		all = append(all, r)
	}
	for {
		worst, most := -1, 1.0
		for i, r := range all {
			for k := range r.squares {
				if r.squares[k] < unlikeLeast*unlikeLeast/2*r.freedom {
					continue
				}
				others, freedom := 0.0, 0.0
				for j, o := range all {
					if j != i {
						others, freedom = others+o.squares[k], freedom+o.freedom
					}
				}
				risk := unlikeRisk / float64(2*len(all))
				limit := r.allowed[k] * distuv.ChiSquared{K: r.freedom}.Quantile(1-risk) / r.freedom
				if freedom > 0 {
					limit = max(limit, others/freedom*min(distuv.F{D1: r.freedom, D2: freedom}.Quantile(1-risk), beyondOthers))
				}
				if excess := r.squares[k] / r.freedom / limit; excess > most {
					worst, most = i, excess
				}
			}
		}
		if worst < 0 {
			return
		}
		c.split(all[worst].row)
		all = slices.Delete(all, worst, worst+1)
	}
}

// scatter is the sum of squares of ln high (0) or ln low (1) about the board's mean, and the variance that one capture is
// allowed.
func (r *Row) scatter(k int, clock float64) (squares, allowed float64) {
	mean, n := 0.0, float64(len(r.Each))
	cold, warm := math.Inf(1), math.Inf(-1)
	for i := range r.Each {
		e := &r.Each[i]
		if !(e.Values[k] > 0) {
			return 0, 1
		}
		mean += math.Log(e.Values[k]) / n
		u := e.Uncertainties[k] / e.Values[k]
		allowed = max(allowed, u*u)
		if e.Temperature != nil {
			cold, warm = min(cold, *e.Temperature), max(warm, *e.Temperature)
		}
	}
	for i := range r.Each {
		d := math.Log(r.Each[i].Values[k]) - mean
		squares += d * d
	}
	allowed += clock * clock / 3
	if warm > cold {
		allowed += perKelvin * perKelvin * (warm - cold) * (warm - cold) / 3
	}
	return squares, allowed
}

// split leaves a board whose captures are of several boards without a verdict.
func (c *Collector) split(row *Row) {
	least, most := math.Inf(1), math.Inf(-1)
	var names []string
	for i := range row.Each {
		v := row.Each[i].Values[0]
		least, most = min(least, v), max(most, v)
		names = append(names, row.Each[i].Capture)
	}
	by := most/least - 1
	if l := row.Each[0].Values[1]; l > 0 {
		least, most = l, l
		for i := range row.Each {
			least, most = min(least, row.Each[i].Values[1]), max(most, row.Each[i].Values[1])
		}
		by = max(by, most/least-1)
	}
	row.Error = fmt.Sprintf("the captures of %s differ by %s, more than one board's can: several boards under one name (%s)", row.Board, quantity.Relative(by), strings.Join(names, ", "))
	c.duplicates = append(c.duplicates, Duplicate{OneName, []string{row.Board}, names, row.Error})
	row.Verdict = ""
}
