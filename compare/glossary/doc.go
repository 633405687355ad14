// Package glossary holds the words of the program: what the output says, in plain terms, with the standard that
// a word comes from. The definitions are our own wording.
package glossary
