package report

import (
	"bufio"
	"bytes"
	"compress/flate"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/lot"
)

// stream writes a JSON document of schema 1 that begins with a list, an item a line as they come.
type stream struct {
	w     *bufio.Writer
	begun bool
}

// begin begins a document with its list.
func begin(w io.Writer, list string) stream {
	s := stream{w: bufio.NewWriter(w)}
	s.w.WriteString("{\n  \"schema\": 1,\n  \"" + list + "\": [")
	return s
}

// item writes what the list holds of a board.
func (s *stream) item(board string, v any) error {
	text, err := compact(v)
	if err != nil {
		return fmt.Errorf("board %s: %w", board, err)
	}
	if s.begun {
		s.w.WriteByte(',')
	}
	s.begun = true
	s.w.WriteString("\n    ")
	_, err = s.w.Write(text)
	return err
}

// end writes what comes after the list, to the end of the document.
func (s *stream) end(rest string) error {
	s.w.WriteString("\n  ],\n" + rest)
	return s.w.Flush()
}

// compact is JSON on one line, by the rules of JSON.
func compact(document any) ([]byte, error) {
	var b bytes.Buffer
	err := encode(&b, document, "")
	return bytes.TrimSpace(b.Bytes()), err
}

// LedgerDetail is all that a ledger keeps of one board.
type LedgerDetail struct {
	Schema  int               `json:"schema"`
	Visits  []ledger.Visit    `json:"visits"`
	Designs map[string]string `json:"designs"` // the designs' texts by their SHA-256
}

// LedgerStream writes the JSON document of `offbeat ledger` result by result, as they are read.
type LedgerStream struct{ stream }

// NewLedgerStream begins a document.
func NewLedgerStream(w io.Writer) *LedgerStream { return &LedgerStream{begin(w, "visits")} }

// Visit writes a result.
func (l *LedgerStream) Visit(v *ledger.Visit) error { return l.item(v.Board, v) }

// Close ends the document.
func (l *LedgerStream) Close(drift []ledger.Drift, warnings []string) error {
	text, err := compact(struct {
		Drift    []ledger.Drift `json:"drift"`
		Warnings []string       `json:"warnings"`
	}{drift, warnings})
	if err != nil {
		return err
	}
	return l.end("  " + string(text[1:len(text)-1]) + "\n}\n")
}

// LotHeld keeps what is written of each board until its lot is judged, since only then it is known which stand out: packed,
// some hundred bytes a board.
type LotHeld struct {
	packed bytes.Buffer
	w      *flate.Writer
}

// NewLotHeld begins with no board.
func NewLotHeld() (*LotHeld, error) {
	h := &LotHeld{}
	var err error
	h.w, err = flate.NewWriter(&h.packed, flate.BestSpeed)
	return h, err
}

// Add keeps a board.
func (h *LotHeld) Add(v *ledger.Visit) error {
	text, err := compact(v)
	if err == nil {
		_, err = h.w.Write(text)
	}
	if err != nil {
		return fmt.Errorf("board %s: %w", v.Board, err)
	}
	return nil
}

// Each hands out the boards, in the order in which they were added.
func (h *LotHeld) Each(take func(i int, v *ledger.Visit) error) error {
	if err := h.w.Close(); err != nil {
		return err
	}
	d := json.NewDecoder(flate.NewReader(&h.packed))
	for i := 0; ; i++ {
		v := &ledger.Visit{}
		if err := d.Decode(v); err == io.EOF {
			return nil
		} else if err != nil {
			return err
		}
		if err := take(i, v); err != nil {
			return err
		}
	}
}

// LotBoard is one board of the JSON document of `offbeat lot`.
type LotBoard struct {
	Board    string                          `json:"board"`
	Lot      string                          `json:"lot,omitempty"`
	Finding  string                          `json:"finding"`
	Verdict  compare.Verdict                 `json:"verdict"`
	Measured compare.Times[compare.Measured] `json:"measured"`
	Causes   []compare.Cause                 `json:"causes"`                   // those with 0.1 % or more
	Against  string                          `json:"causes_against,omitempty"` // "the other boards" where it stands out from them
	Captures []compare.Capture               `json:"captures"`
	Files    []ledger.Capture                `json:"files"` // how each was taken
	Warnings []string                        `json:"warnings"`
}

// LotStream writes the JSON document of `offbeat lot`: one board a line, then the rest.
type LotStream struct{ stream }

// NewLotStream begins a document.
func NewLotStream(w io.Writer) *LotStream { return &LotStream{begin(w, "boards")} }

// Board writes a board that was judged; one that was not stands in the report.
func (l *LotStream) Board(v *ledger.Visit) error {
	if v.Error != "" {
		return nil
	}
	b := &LotBoard{v.Board, v.Lot, v.Finding, compare.Verdict{Result: v.Verdict}, v.Measured, v.Causes, "", v.Read, nil, v.Warnings}
	if v.Judgement != nil {
		b.Verdict = *v.Judgement
	}
	if v.Alone != nil {
		b.Against = "the other boards"
	}
	for _, c := range v.Captures {
		c.Records = nil // the times stand in captures
		b.Files = append(b.Files, c)
	}
	return l.item(v.Board, b)
}

// Close writes the lot's own part and ends the document.
func (l *LotStream) Close(r *lot.Report) error {
	rest := *r
	rest.Schema = 0 // stands at the head already
	var b bytes.Buffer
	if err := JSON(&b, &rest); err != nil {
		return err
	}
	return l.end(strings.TrimPrefix(b.String(), "{\n"))
}
