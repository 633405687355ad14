// Package schematic lays a wiring out for a drawing: each node a level line, each part upright between its two nodes, the
// device a box at the right with its pins on their nodes' lines.
//
//  1. Levels: the supply on top, the negative rail or ground at the foot; the others in the order that makes the parts
//     shortest and cross the fewest lines.
//  2. Columns: a part takes the first column that is free between its levels, so that parts in series stand in one.
//  3. text.go draws that with characters; package picture as SVG.
//
// It knows no value and no law; the same wiring always gives the same drawing.
package schematic
