// Package recognise finds out what shape an input has, from its first lines: cells, columns, units, what stands above the
// rows. It ends in a Plan, which package read follows.
//
// From the bottom up: words for units and names (units, patterns); a line cut into cells, and what they look like (line); what
// names and values state (meta); the head of lines with its table, its decimal mark, its header and its columns (head, table,
// mark, header, columns, fold), drawn up by newHead (view) and never changed behind it; what all tables share (draft,
// choice, step, and assemble, which draws it up). A shape, each its own file, looks at the head and returns a proposal;
// assemble makes the Plan of it, and nothing else does. Lines that name their values (labels) are made a table before.
package recognise
