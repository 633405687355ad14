// Package reconcile is the pipeline of the main job: a design and what was measured of one board go in, a
// Finding comes out.
//
//  1. The board's causes become hypotheses (package cause), the measurements the data of one problem (package question).
//  2. The back-solve (package posterior) gives each its probability and weighted samples of the parts.
//  3. What the times pin down with no assumption, the parts, the causes, the verdict, the next reading and the
//     words are read off.
package reconcile
