package streams

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"
)

// steering are characters that must not reach a terminal, and some that may.
var steering = []string{"\x1b[31m", "\x1b[0m", "\x1b]0;title\a", "\x1b", "\x1b[", "\r", "\b", "\x00", "\x7f", "\u0085", "\u009b2J", "\u061c", "\u200e", "\u202e", "\u2066", "\u2069",
	"\u2028", "\ufeff", "\xff", "\xe2\x80", "a", "µ", "Ω", " ", "\n", "\t", "漢", "𝛀", "שלום"}

func nasty(random *rand.Rand) string {
	var b strings.Builder
	for range random.IntN(12) {
		b.WriteString(steering[random.IntN(len(steering))])
	}
	return b.String()
}

// What is printed holds nothing that steers, wherever it is cut into writes, and is not cleaned twice.
func TestCleanWhereverItIsCut(t *testing.T) {
	random := rand.New(rand.NewPCG(13, 5))
	for range 20000 {
		text := nasty(random)
		want := Clean(text)
		for _, r := range want {
			if r != '\n' && r != '\t' && (unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == '\u2028') {
				t.Fatalf("%q: %q", text, want)
			}
		}
		if !utf8.ValidString(want) || Clean(want) != want {
			t.Fatalf("%q: %q, and again %q", text, want, Clean(want))
		}
		if strings.IndexFunc(text, steers) < 0 && utf8.ValidString(text) && want != text {
			t.Fatalf("%q became %q", text, want)
		}
		if !utf8.ValidString(text) {
			continue // what is cut off at the end of all is kept back
		}
		for _, colour := range []bool{false, true} {
			s := &Streams{Color: colour}
			var whole, cut bytes.Buffer
			io.WriteString(s.Filter(&whole), text+"......")
			w := s.Filter(&cut)
			for rest := text + "......"; rest != ""; {
				n := 1 + random.IntN(len(rest))
				if _, err := io.WriteString(w, rest[:n]); err != nil {
					t.Fatal(err)
				}
				rest = rest[n:]
			}
			if whole.String() != cut.String() {
				t.Fatalf("%q: whole %q, cut %q", text, whole.String(), cut.String())
			}
			left := strings.NewReplacer("\x1b[31m", "", "\x1b[0m", "").Replace(whole.String())
			if strings.ContainsRune(left, 0x1b) || !colour && whole.String() != want+"......" {
				t.Fatalf("%q, colour %v: %q", text, colour, whole.String())
			}
		}
	}
}

// A JSON document means the same after the filter.
func TestCleanKeepsJSON(t *testing.T) {
	random := rand.New(rand.NewPCG(13, 6))
	for range 5000 {
		text := strings.ToValidUTF8(nasty(random), "?")
		b, err := json.Marshal(map[string]string{text: text})
		if err != nil {
			t.Fatal(err)
		}
		var got map[string]string
		if err := json.Unmarshal([]byte(Clean(string(b))), &got); err != nil || got[text] != text {
			t.Fatalf("%q: %s, %v", text, Clean(string(b)), err)
		}
	}
}

// broken is an output that takes nothing.
type broken struct{}

var errBroken = errors.New("no room")

func (broken) Write([]byte) (int, error) { return 0, errBroken }

func TestBrokenIsRemembered(t *testing.T) {
	s, _, _ := buffered("")
	if s.Guard().Broken() != nil {
		t.Error("broken before anything was written")
	}
	s.Out = broken{}
	g := s.Guard()
	io.WriteString(g.Out, "x")
	io.WriteString(g.Out, "")
	if !errors.Is(g.Broken(), errBroken) || g.Terminal() != s.Out {
		t.Errorf("%v", g.Broken())
	}
}

func BenchmarkFilter(b *testing.B) {
	text := []byte(strings.Repeat("  high       (4.8798 ± 0.0014) ms   3.965 ms  3.532 … 4.405 ms\n", 1000))
	b.SetBytes(int64(len(text)))
	w := Cleaner(io.Discard)
	for b.Loop() {
		w.Write(text)
	}
}
