package designfile

import (
	"cmp"
	"errors"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/agnivade/levenshtein"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
)

// ErrDesign is what every Error wraps, unless an I/O error is the cause.
var ErrDesign = errors.New("unusable design")

// Error is a fault in a design.
type Error struct {
	Fault  acquire.Error // File, Line and Column of the design file; for a flag File is its name and Line 0
	Text   string        // the line of the file, or the flag's argument, that holds the fault; may be empty
	Offset int           // byte offset of the fault in Text
	Flag   bool          // it was typed on the command line
}

func (e *Error) Error() string { return e.Fault.Error() }

func (e *Error) Unwrap() error { return e.Fault.Err }

// Caret is the faulty text with a caret under the fault; empty where there is none.
func (e *Error) Caret() string {
	if e.Text == "" {
		return ""
	}
	return quantity.Caret(e.Text, e.Offset)
}

// place is where something was written.
type place struct {
	file   string // file name, or the flag such as "--part"
	line   int    // 1-based; 0 for a flag
	text   string // the whole line, or the flag's argument
	offset int    // byte offset in text
	typed  bool   // on the command line
}

func (p place) fail(what, expect, do string) *Error {
	f := acquire.Error{File: p.file, Line: p.line, What: what, Expect: expect, Do: do, Err: ErrDesign}
	if p.line > 0 {
		f.Column = p.offset + 1
	}
	return &Error{Fault: f, Text: p.text, Offset: p.offset, Flag: p.typed}
}

// Meant asks, after some words, whether the nearest candidate was meant; "" where none is near.
func Meant(before, word string, candidates []string) string {
	if n := Nearest(word, candidates); n != "" {
		return before + "did you mean " + n + "?"
	}
	return ""
}

// mostMeant is how many candidates are named that all begin with a word.
const mostMeant = 3

// Nearest returns the candidates that begin with the word, the shorter first, as "a or b", else the one that takes the fewest
// single-character edits to get from word, letter case left out of the count; "" where none is near (more than a third of the
// word's length, at least two).
func Nearest(word string, candidates []string) string {
	var begin []string
	for _, c := range candidates {
		if strings.HasPrefix(strings.ToLower(c), strings.ToLower(word)) && word != "" && c != word {
			begin = append(begin, c)
		}
	}
	if len(begin) > 0 {
		slices.SortStableFunc(begin, func(a, b string) int { return cmp.Compare(len(a), len(b)) })
		return strings.Join(begin[:min(mostMeant, len(begin))], " or ")
	}
	best, least := "", max(2, utf8.RuneCountInString(word)/3)+1
	for _, c := range candidates {
		if d := levenshtein.ComputeDistance(strings.ToLower(word), strings.ToLower(c)); d < least && d < utf8.RuneCountInString(c) {
			best, least = c, d
		}
	}
	return best
}
