package report

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"reflect"
	"strings"

	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/lot"
)

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

// LotStream writes the JSON document of `offbeat lot`: one board a line, then the rest. It keeps the first error.
type LotStream struct {
	w     *bufio.Writer
	begun bool
	err   error
}

// NewLotStream begins a document.
func NewLotStream(w io.Writer) *LotStream {
	l := &LotStream{w: bufio.NewWriter(w)}
	l.write("{\n  \"schema\": 1,\n  \"boards\": [")
	return l
}

func (l *LotStream) write(text string) {
	if l.err == nil {
		_, l.err = l.w.WriteString(text)
	}
}

// Board writes a board that was judged; one that was not stands in the report.
func (l *LotStream) Board(v *ledger.Visit) error {
	if v.Error != "" {
		return l.err
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
	text, err := compact(b)
	if err != nil {
		return fmt.Errorf("board %s: %w", v.Board, err)
	}
	if l.begun {
		l.write(",")
	}
	l.begun = true
	l.write("\n    " + string(text))
	return l.err
}

// Close writes the lot's own part and ends the document.
func (l *LotStream) Close(r *lot.Report) error {
	rest := *r
	rest.Schema = 0 // stands at the head already
	var b bytes.Buffer
	if err := JSON(&b, &rest); err != nil {
		return err
	}
	l.write("\n  ],\n")
	l.write(strings.TrimPrefix(b.String(), "{\n"))
	if l.err == nil {
		l.err = l.w.Flush()
	}
	return l.err
}

// compact is JSON on one line, by the rules of JSON.
func compact(document any) ([]byte, error) {
	v := reflect.ValueOf(document)
	if at := notFinite(v, ""); at != "" {
		return nil, fmt.Errorf("the result's %s is not a finite number", strings.TrimPrefix(at, "."))
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(filled(v).Interface())
	return bytes.TrimSpace(b.Bytes()), err
}
