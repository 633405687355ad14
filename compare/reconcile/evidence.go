package reconcile

import (
	"offbeat/compare/cause"
	"offbeat/fit/posterior"
)

// Evidence is what a Finding was read off: pictures need it, the Finding's readers do not.
type Evidence struct {
	Board   *cause.Board
	Problem *posterior.Problem
	Cases   []cause.Case      // every hypothesis compared
	Result  *posterior.Result // one outcome a case, and the weighted samples of the parts
}
