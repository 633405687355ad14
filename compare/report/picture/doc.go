// Package picture draws the pictures of a report as inline SVG: what to see is said by lines, hatching and
// labels before colour, and by a description for who cannot see it.
//
// All pictures share one width in user units, so that their text keeps one size in print, on a phone and on a
// desk. Colours, line styles and fonts are classes of CSS, which the page that holds a picture must include.
package picture
