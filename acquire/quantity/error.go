package quantity

import (
	"errors"
	"strings"

	"github.com/mattn/go-runewidth"
)

// ErrQuantity is what every Error wraps.
var ErrQuantity = errors.New("malformed quantity")

// Error is a fault in the text of a quantity, with its place.
type Error struct {
	Text   string // the whole text
	Offset int    // byte offset of the fault, 0 … len(Text)
	What   string // what was found
	Expect string // what was expected, may be empty
	Do     string // what to write instead, may be empty
}

func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.What)
	if e.Expect != "" {
		b.WriteString("; expected " + e.Expect)
	}
	if e.Do != "" {
		b.WriteString("; " + e.Do)
	}
	return b.String()
}

func (e *Error) Unwrap() error { return ErrQuantity }

// Caret is the text and, on the line below, a caret under the fault.
func (e *Error) Caret() string { return Caret(e.Text, e.Offset) }

// Caret shows a fault at a byte offset of a text that has no line breaks: the text, and a caret below.
func Caret(text string, offset int) string {
	offset = max(0, min(offset, len(text)))
	columns := runewidth.Condition{} // whatever the locale
	return text + "\n" + strings.Repeat(" ", columns.StringWidth(text[:offset])) + "^"
}
