package cli

import (
	"strings"
	"testing"
	"unicode/utf8"
)

// What is wider than the page is broken where it is prose, a list or a command; what else is there to be copied is not.
func TestReflow(t *testing.T) {
	const page = `One two three four five
six seven.

  offbeat reconcile a b c d e f g
    key = 1   # what it is in a file
  measure     says what times there are
      --a B   one two three four five

End.`
	for width, want := range map[int]string{
		1000: page,
		34: `One two three four five
six seven.

  offbeat reconcile a b c d e f g
    key = 1   # what it is in a file
  measure     says what times
              there are
      --a B   one two three four
              five

End.`,
		20: `One two three four
five six seven.

  offbeat \
    reconcile a b \
    c d e f g
    key = 1   # what it is in a file
  measure     says what times there are
      --a B   one two three four five

End.`, // 6 columns are too few to break words into
	} {
		if got := reflow(page, width); got != want {
			t.Errorf("%d columns:\n%s\nwant\n%s", width, got, want)
		}
	}
}

// Every page's prose and lists keep to the width; what is wider is an example or a file to be copied.
func TestHelpKeepsToTheWidth(t *testing.T) {
	s, _, _ := buffered("")
	root := newRoot(s)
	for _, width := range []int{60, 80, 120} {
		for _, c := range documented(root) {
			s, out, _ := buffered("")
			s.Width = width
			args := []string{"help", c.Name()}
			if c == root {
				args = args[:1]
			}
			if status := Main(args, s); status != Done || out.Len() == 0 {
				t.Fatalf("%s: status %d", args, status)
			}
			for line := range strings.SplitSeq(out.String(), "\n") {
				n := utf8.RuneCountInString(line)
				if n > width && (line[0] != ' ' || entry.MatchString(line)) {
					t.Errorf("%d columns, help %s: a line of %d: %s", width, c.Name(), n, line)
				}
			}
		}
	}
}
