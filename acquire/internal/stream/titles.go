package stream

import "bytes"

// titles are the names that a line gave to the cells of the lines below it.
type titles struct {
	names [][]byte
	delim byte
}

// titlesOf reads a line of names of which some rate the train, or tell how long each state lasts.
func titlesOf(line []byte) (t titles, ok bool) {
	for _, t.delim = range []byte(";\t,|") {
		if t.names = cellsOf(line, t.delim); len(t.names) > 1 {
			break
		}
	}
	if len(t.names) < 2 || bytes.IndexAny(line, "0123456789") >= 0 {
		return t, false
	}
	for i, n := range t.names {
		t.names[i] = plain(n)
	}
	ones := t.join(bytes.Split(bytes.Repeat([]byte{'1'}, len(t.names)), nil))
	_, frequency := quantumOf(ratedFrequency, ones)
	_, period := quantumOf(ratedPeriod, ones)
	_, high := quantumOf(ratedHigh, ones)
	return t, len(named(ones)) > 1 || (frequency || period) && (high || ratedDuty.Match(ones))
}

// units takes a line that is a row of units below the names.
func (t *titles) units(line []byte) {
	cells := cellsOf(line, t.delim)
	if len(cells) != len(t.names) || bytes.IndexAny(line, "0123456789") >= 0 {
		return
	}
	for i, c := range cells {
		if c = bytes.Trim(plain(c), "() "); len(c) > 0 {
			t.names[i] = append(append(bytes.Clone(t.names[i]), ' '), c...)
		}
	}
}

// plain writes a name in the characters of the patterns.
func plain(name []byte) []byte {
	name = bytes.ReplaceAll(unaccented(latin(name)), []byte{'.'}, nil)
	return bytes.ReplaceAll(bytes.ReplaceAll(name, []byte{'['}, []byte{'('}), []byte{']'}, []byte{')'})
}

// unaccented leaves out the accents of the letters that the patterns' words have.
func unaccented(b []byte) []byte {
	for accented, plain := range map[string]string{"é": "e", "É": "E", "ä": "a", "í": "i", "ó": "o"} {
		b = bytes.ReplaceAll(b, []byte(accented), []byte(plain))
	}
	return b
}

// row names the values of a line of as many cells; another line is given back as it is.
func (t *titles) row(line []byte) (text []byte, ok bool) {
	if t.names == nil {
		return line, false
	}
	cells := cellsOf(line, t.delim)
	if len(cells) != len(t.names) {
		return line, false
	}
	if t.delim != ',' { // a decimal comma
		for i := range cells {
			cells[i] = bytes.Replace(cells[i], []byte{','}, []byte{'.'}, 1)
		}
	}
	return t.join(cells), true
}

func (t *titles) join(cells [][]byte) (text []byte) {
	for i, n := range t.names {
		text = append(append(append(append(text, n...), '='), cells[i]...), ';', ' ')
	}
	return text
}

// cellsOf cuts a line into its cells, without blanks, quotes and an empty one at the end.
func cellsOf(line []byte, delim byte) (cells [][]byte) {
	for c := range bytes.SplitSeq(bytes.TrimSuffix(bytes.TrimSpace(line), []byte{delim}), []byte{delim}) {
		cells = append(cells, bytes.Trim(c, " \t\""))
	}
	return cells
}

// latin writes the micro sign, in either coding, as u.
func latin(b []byte) []byte {
	for _, micro := range []string{"µ", "μ", "\xb5"} {
		b = bytes.ReplaceAll(b, []byte(micro), []byte{'u'})
	}
	return b
}
