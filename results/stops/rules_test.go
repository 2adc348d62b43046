package stops

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence"
	"padjig/sequence/product"
)

// runsOf reads runs of a line, in order: each is a unit and what came of it. "a:7" failed
// with key 7 open, "a:7,8" with both, "a:-" passed, "a:~3" had to be reseated for pin 3,
// "a:~" for none in particular, "a:x" was aborted, "a:x7" after key 7 was found open, "a:?"
// is incomplete, "a:h" a good harness. A unit is judged for the first time where it comes
// first; "a2:-" says that its attempt was the second.
func runsOf(t *testing.T, text string) (list []Run) {
	t.Helper()
	seen := map[string]bool{}
	for i, word := range strings.Fields(text) {
		unit, what, _ := strings.Cut(word, ":")
		r := Run{Seq: int64(i + 1), Unit: unit[:1], Attempt: 1}
		if len(unit) > 1 {
			r.Attempt = int(unit[1] - '0')
		}
		found, pins := what, ""
		switch what[0] {
		case '-':
			r.Outcome, found = sequence.Pass, ""
		case '~':
			r.Outcome, found, pins = sequence.Reseat, "", what[1:]
		case 'x':
			r.Outcome, found = sequence.Aborted, what[1:]
		case '?':
			r.Outcome, found = sequence.Incomplete, ""
		case 'h':
			r.Outcome, found = sequence.HarnessGood, ""
		default:
			r.Outcome = sequence.Fail
		}
		for _, key := range strings.FieldsFunc(found, func(c rune) bool { return c == ',' }) {
			r.Faults = append(r.Faults, openAt(key))
		}
		for _, pin := range strings.FieldsFunc(pins, func(c rune) bool { return c == ',' }) {
			n, err := strconv.Atoi(pin)
			require.NoError(t, err)
			r.Pins = append(r.Pins, n)
		}
		says := r.Outcome == sequence.Pass || r.Outcome == sequence.Fail || len(r.Faults) > 0
		r.First = says && !seen[r.Unit]
		seen[r.Unit] = seen[r.Unit] || says
		list = append(list, r)
	}
	return list
}

func openAt(key string) Fault { return Fault{"key open", key, "R1 C1"} }

func TestWhenALineStops(t *testing.T) {
	usual := product.UsualStops()
	small := usual
	small.Yield, small.Of = 0.6, 5
	none := product.Stops{}
	for _, c := range []struct {
		name   string
		limits product.Stops
		runs   string
		want   *Met
	}{
		{"nothing yet", usual, "", nil},
		{"three with the same", usual, "a:7 b:7 c:7", &Met{Rule: SameFinding, Fault: openAt("7"), Count: 3, Run: 3}},
		{"two with the same", usual, "a:7 b:7", nil},
		{"another place between", usual, "a:7 b:8 c:7 d:7", nil},
		{"one that passed between", usual, "a:7 b:7 c:- d:7", nil},
		{"what is the same need not be the worst", usual, "a:1,7 b:7 c:7,9", &Met{Rule: SameFinding, Fault: openAt("7"), Count: 3, Run: 3}},
		{"the same unit three times is one", usual, "a:7 a2:7 a3:7", nil},
		{"retests between neither count nor break", usual, "a:7 a2:- b:7 b2:- c:7", &Met{Rule: SameFinding, Fault: openAt("7"), Count: 3, Run: 5}},
		{"reseats between neither count nor break", usual, "a:7 b:~1 b:7 d:~2 c:7", &Met{Rule: SameFinding, Fault: openAt("7"), Count: 3, Run: 5}},
		{"stopping each when it was found", usual, "a:x7 b:x7 c:x7", &Met{Rule: SameFinding, Fault: openAt("7"), Count: 3, Run: 3}},
		{"stopping one and testing it again", usual, "a:7 b:x7 b2:- c:7", &Met{Rule: SameFinding, Fault: openAt("7"), Count: 3, Run: 4}},
		{"aborted before anything was found", usual, "a:7 b:x b:7 c:x c:x d:7", &Met{Rule: SameFinding, Fault: openAt("7"), Count: 3, Run: 6}},
		{"a harness between", usual, "a:7 b:h c:7 d:h e:7", &Met{Rule: SameFinding, Fault: openAt("7"), Count: 3, Run: 5}},
		{"incomplete between", usual, "a:7 b:? c:7 d:? e:7", &Met{Rule: SameFinding, Fault: openAt("7"), Count: 3, Run: 5}},
		{"met, and others behind it", usual, "a:7 b:7 c:7 d:- e:- f:-", &Met{Rule: SameFinding, Fault: openAt("7"), Count: 3, Run: 3}},

		{"not before there are so many", small, "a:1 b:2 c:3 d:4", nil},
		{"of five, two passed", small, "a:1 b:- c:3 d:- e:5", &Met{Rule: Yield, Count: 2, Of: 5, Run: 5}},
		{"of five, three passed", small, "a:1 b:- c:3 d:- e:-", nil},
		{"the window moves on", small, "a:- b:- c:- d:- e:1 f:2 g:3", &Met{Rule: Yield, Count: 2, Of: 5, Run: 7}},
		{"passed at the second attempt did not pass at first", small, "a:1 b2:- c:3 d:- e:-", &Met{Rule: Yield, Count: 2, Of: 5, Run: 5}},
		{"retests do not better it", small, "a:1 a2:- b:2 b2:- c:3 c2:- d:- e:-", &Met{Rule: Yield, Count: 2, Of: 5, Run: 8}},

		{"the same pin at three", usual, "a:~3 b:~3 c:~3,5", &Met{Rule: SameProbe, Pins: []int{3}, Count: 3, Run: 3}},
		{"they sat well in the end", usual, "a:~3 a:- b:~2,3 b:- c:~3 c:-", &Met{Rule: SameProbe, Pins: []int{3}, Count: 3, Run: 5}},
		{"one sat well at once between", usual, "a:~3 b:~3 c:- d:~3", nil},
		{"two tries of one are one unit", usual, "a:~3 a:~3 b:~3", nil},
		{"stopping one between", usual, "a:~3 b:~3 d:x c:~3", &Met{Rule: SameProbe, Pins: []int{3}, Count: 3, Run: 4}},
		{"five for any pins", usual, "a:~3 b:~5 c:~ d:~1 e:~3", &Met{Rule: Unseated, Pins: []int{1, 3, 5}, Count: 5, Run: 5}},
		{"five for none in particular", usual, "a:~ b:~ c:~ d:~ e:~", &Met{Rule: Unseated, Count: 5, Run: 5}},
		{"four for any pins", usual, "a:~3 b:~5 c:~ d:~1 e:-", nil},

		{"no rules", none, "a:7 b:7 c:7 d:7 e:~3 f:~3 g:~3 h:~3 i:~3 j:~3", nil},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, OfLine(c.limits, runsOf(t, c.runs))) })
	}
}

func TestWhenAUnitIsNotTriedAgain(t *testing.T) {
	for _, c := range []struct {
		reseats int
		runs    string
		want    *Met
	}{
		{2, "a:~3", nil},
		{2, "a:~3 a:~5", &Met{Rule: Reseats, Unit: "a", Pins: []int{3, 5}, Count: 2, Run: 2}},
		{2, "a:~3 a:x a:~3", &Met{Rule: Reseats, Unit: "a", Pins: []int{3}, Count: 2, Run: 3}},
		{2, "a:~3 a:7 a2:~3", nil},
		{2, "a:~3 a:h a:~3", nil},
		{1, "a:~", &Met{Rule: Reseats, Unit: "a", Count: 1, Run: 1}},
		{0, "a:~3 a:~3 a:~3 a:~3", nil},
	} {
		assert.Equal(t, c.want, OfUnit(product.Stops{Reseats: c.reseats}, runsOf(t, c.runs)), "%v", fmt.Sprint(c.reseats, c.runs))
	}
}
