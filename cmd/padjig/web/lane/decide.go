package lane

import (
	"fmt"
	"strconv"
	"strings"
	"sync"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/results/stops"
)

// Who may override or lift does it by scanner too: the code of what they decide, then that
// of the reason. Each of the two alone does nothing, so that one code read by mistake
// decides nothing.

// The codes of what is decided; those of a reason are the same with its number and an end.
const (
	lifting    = "LIFT"
	overriding = "OVER"
	reasonEnds = "P"
)

// overrideReasons are those that have a code, as they are recorded.
var overrideReasons = []string{
	"looked at, and nothing found", "the jig was at fault and is mended", "the label was read wrongly before",
	"it was put in wrongly before", "quality asks for the test",
}

// decidesWithin is how long a decision waits for its reason.
const decidesWithin = time.Minute

// decision is what somebody is about to decide at a lane: just this stop, or this unit.
type decision struct {
	what   string
	lane   int
	stop   int64
	serial string
	at     time.Time
}

// decisions are those begun, by screen and person; what is lost of them is scanned again.
type decisions struct {
	mu sync.Mutex
	by map[string]decision
}

func (d *decisions) begin(who string, one decision) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.by == nil {
		d.by = map[string]decision{}
	}
	for who, other := range d.by {
		if one.at.Sub(other.at) > decidesWithin {
			delete(d.by, who)
		}
	}
	d.by[who] = one
}

// take gives what was begun, once; false where nothing was, or too long ago.
func (d *decisions) take(who string, now time.Time) (decision, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	one, begun := d.by[who]
	delete(d.by, who)
	return one, begun && now.Sub(one.at) <= decidesWithin
}

// isDecision reports whether a command is one of somebody who decides.
func isDecision(word string) bool {
	return strings.HasPrefix(word, lifting) || strings.HasPrefix(word, overriding)
}

// decide takes the code of a decision or of its reason.
func (p *Pages) decide(v *page.Visit, word string) (page.Answer, error) {
	n, lane, err := p.lanes.Asked(v)
	if err != nil {
		return page.Answer{}, err
	}
	if v.Late() {
		return page.Answer{}, page.Conflict(v.Say("halt.late"))
	}
	if !v.Person.HasRole(page.Deciding) {
		return page.Answer{}, page.Refused(v.Say("decide.who"))
	}
	begun, waits := p.decisions.take(p.hands.who(v), time.Now())
	if word == lifting || word == overriding {
		return p.beginDecision(v, word, n, lane)
	}
	what, reason := reasonOf(word)
	switch {
	case reason == "":
		return page.Answer{}, page.Wrong(v.Say("scan.command", word))
	case !waits || begun.what != what || begun.lane != n:
		return page.Answer{}, page.Wrong(v.Say("decide.first"))
	case what == overriding:
		return p.overrideUnit(v, n, lane, begun.serial, reason)
	}
	return p.lanes.Lift(v, p.store.Stops, begun.stop, stops.Lifting{Reason: stops.Reason(reason)})
}

// beginDecision keeps in mind what the lane shows, until the reason comes.
func (p *Pages) beginDecision(v *page.Visit, word string, n int, lane *station.Lane) (page.Answer, error) {
	state := lane.State()
	one := decision{what: word, lane: n, at: time.Now()}
	say := ""
	switch stop := halt(v, state); {
	case word == overriding && overridable(state, v.Person):
		one.serial = state.Unit.Serial
		say = v.Say("decide.override", one.serial)
	case word == overriding:
		return page.Answer{}, page.Wrong(v.Say("decide.nooverride"))
	case stop == nil:
		return page.Answer{}, page.Wrong(v.Say("decide.nostop"))
	default:
		one.stop = stop.Number
		say = v.Say("decide.lift", one.stop)
	}
	p.decisions.begin(p.hands.who(v), one)
	return page.Answer{Say: say}, nil
}

// reasonOf reads the code of a reason, which is empty where there is none of it.
func reasonOf(word string) (what, reason string) {
	for _, what := range []string{lifting, overriding} {
		digits, is := strings.CutPrefix(word, what)
		digits, ends := strings.CutSuffix(digits, reasonEnds)
		number, err := strconv.Atoi(digits)
		if list := reasonsFor(what); is && ends && err == nil && number >= 1 && number <= len(list) {
			return what, list[number-1]
		}
	}
	return "", ""
}

func reasonsFor(what string) (out []string) {
	if what == overriding {
		return overrideReasons
	}
	for _, reason := range stops.Reasons() {
		out = append(out, string(reason))
	}
	return out
}

// deciding adds the codes of who may override and lift.
func (c *codesView) deciding(v *page.Visit) error {
	for _, what := range []struct{ code, words string }{{lifting, "stopreason."}, {overriding, "overridereason."}} {
		if err := c.add(v, CommandPrefix+what.code, v.Say("command."+what.code)); err != nil {
			return err
		}
		for i, reason := range reasonsFor(what.code) {
			if what.code == overriding {
				reason = strconv.Itoa(i + 1)
			}
			say := v.Say("decide.reason", v.Say("command."+what.code), v.Say(what.words+reason))
			if err := c.add(v, fmt.Sprintf("%s%s%d%s", CommandPrefix, what.code, i+1, reasonEnds), say); err != nil {
				return err
			}
		}
	}
	return nil
}
