// Package glossary holds the words of the program: what the output says, in plain terms, with the standard that
// a word comes from. The definitions are our own wording.
package glossary

import "strings"

// Section is a list of terms that belong together.
type Section struct {
	Title string
	Terms []Term
}

// Sections are all terms in reading order.
var Sections = []Section{
	{"The signal", signal},
	{"Uncertainty", uncertainty},
	{"Circuits and parts", circuits},
	{"The back-solve", backsolve},
	{"Causes", causes},
	{"Verdicts and lots", verdicts},
}

// Lookup finds a term by its name or another word for it, letter case, hyphens and a plural left aside.
func Lookup(word string) (Term, bool) {
	want := key(word)
	for _, s := range Sections {
		for _, t := range s.Terms {
			for _, n := range t.names() {
				if k := key(n); k == want || k+"s" == want {
					return t, true
				}
			}
		}
	}
	return Term{}, false
}

func (t Term) names() []string { return append([]string{t.Name}, t.Also...) }

// key makes different ways to write a word alike.
func key(word string) string {
	return strings.NewReplacer("-", " ", "_", " ").Replace(strings.ToLower(strings.Join(strings.Fields(word), " ")))
}

// Names lists every name and every other word, in reading order.
func Names() []string {
	var all []string
	for _, s := range Sections {
		for _, t := range s.Terms {
			all = append(all, t.names()...)
		}
	}
	return all
}
