package glossary

// Term is one word with its meaning.
type Term struct {
	Name   string
	Also   []string // other words for it
	Text   string   // plain sentences
	Source string   // the standard or paper that the word comes from; empty: our own
	See    []string // names of other terms
}
