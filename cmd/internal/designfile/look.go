package designfile

import (
	"slices"
	"strings"

	"offbeat/compare/cause"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

// Looks reads what was seen of a board, each as typed after --look: "marking R2 wrong".
func Looks(texts []string, d *fit.Design) error {
	for _, text := range texts {
		if err := look(text, d, place{file: "--look", text: text, typed: true}); err != nil {
			return err
		}
	}
	return nil
}

// look reads one: the look's name, the part where it is of one, the outcome; "of", commas and colons count for nothing.
func look(text string, d *fit.Design, at place) error {
	words := strings.Fields(strings.NewReplacer(":", " ", ",", " ", "=", " ").Replace(text))
	words = slices.DeleteFunc(words, func(w string) bool { return w == "of" || w == "at" || w == "the" })
	c, err := circuit.Of(d)
	if err != nil {
		return err
	}
	l, rest := lookOf(words)
	if l == nil {
		var names []string
		for i := range cause.Looks {
			names = append(names, cause.Looks[i].Name)
		}
		return at.fail(quoted(text)+" names no look", "one of "+strings.Join(names, ", ")+", such as "+quoted("marking R2 wrong"), "")
	}
	subjects := l.Subjects(c, d.Parts)
	seen := fit.Look{Name: l.Name}
	if len(subjects) == 0 {
		return at.fail("the "+c.Name+" circuit has no "+l.Name, "another look", "")
	}
	if subjects[0] != "" {
		k := -1
		if len(rest) > 0 {
			k = slices.IndexFunc(subjects, func(s string) bool { return strings.EqualFold(s, rest[0]) })
		}
		if k < 0 {
			return at.fail(quoted(text)+" names no part to look at", "one of "+strings.Join(subjects, ", ")+", such as "+quoted(l.Entered(subjects[0], l.Found)), "")
		}
		seen.Part, rest = subjects[k], rest[1:]
	}
	switch outcome := strings.ToLower(strings.Join(rest, " ")); outcome {
	case l.Found, l.Sound:
		seen.Found = outcome == l.Found
	default:
		return at.fail(quoted(text)+" does not say what was seen", quoted(l.Entered(seen.Part, l.Found))+" or "+quoted(l.Entered(seen.Part, l.Sound)), "")
	}
	// One look at a thing: the later one counts.
	d.Looks = slices.DeleteFunc(d.Looks, func(s fit.Look) bool { return s.Name == seen.Name && s.Part == seen.Part })
	d.Looks = append(d.Looks, seen)
	return nil
}

// lookOf finds the look whose name the words begin with, and what follows it; nil: none.
func lookOf(words []string) (l *cause.Look, rest []string) {
	for i := range cause.Looks {
		name := strings.Fields(cause.Looks[i].Name)
		if len(words) >= len(name) && slices.EqualFunc(words[:len(name)], name, strings.EqualFold) {
			return &cause.Looks[i], words[len(name):]
		}
	}
	return nil, nil
}
