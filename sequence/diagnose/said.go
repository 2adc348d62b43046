package diagnose

import (
	"fmt"

	"padjig/sequence/diagnose/readings"
	"padjig/sequence/product"
)

// Said is a fact: a code and its arguments. Words are made of it last, and not here.
type Said struct {
	Code Code
	Args []string
}

// Code names a place, a reading, what to do or what came of it; it is the key of its
// words, too.
type Code string

// Where a cause lies.
const (
	AtKey         Code = "at.key"                // label, its lines
	AtKeyAndLines Code = "at.key and lines"      // label, its lines; line, pin, line, pin
	AtKeyAndSome  Code = "at.key and some lines" // label, its lines
	AtPin         Code = "at.tail pin"           // line, pin
	AtBreak       Code = "at.between keys"       // line, key, key
	AtCrack       Code = "at.from between keys"  // line, key, key
	AtOpen        Code = "at.open first"         // line, pin, key
	AtMore        Code = "at.more first"         // line, pin, key
	AtNeighbours  Code = "at.side by side"       // line, pin, line, pin
	AtBridge      Code = "at.near each other"    // line, pin, line, pin
	AtCrease      Code = "at.across the tail"    // pins
	AtRegion      Code = "at.around keys"        // keys
	AtLeaks       Code = "at.leaks"              // number, lines
	AtChannel     Code = "at.channel"            // line, pin
	AtSeat        Code = "at.seat"               // pin
	AtSeatOfLine  Code = "at.seat of line"       // pin, line
	AtNoLines     Code = "at.no lines"           // gone when looked for
	AtTracks      Code = "at.all tracks"         // times
	AtRight       Code = "at.panel, right"
	AtLeft        Code = "at.panel, left"
	AtBottom      Code = "at.panel, bottom"
	AtTop         Code = "at.panel, top"
	AtAllKeys     Code = "at.all keys"
	AtJig         Code = "at.jig"
	AtFurther     Code = "at.tail further" // pins
	AtNearer      Code = "at.tail nearer"  // pins
	AtTurned      Code = "at.tail turned"
	AtExchanged   Code = "at.changed places"       // line, pin, line, pin
	AtTwoExchange Code = "at.changed places twice" // line, pin, four times
	AtOther       Code = "at.other product"        // code, title
	AtLine        Code = "at.line"                 // line
	AtLines       Code = "at.several lines"        // lines
	AtLabel       Code = "at.label"                // key
)

// What a reading is. Those of values have a second code for what is over them.
const (
	ReadOpen      Code = "read.open"
	ReadReversed  Code = "read.reversed"
	ReadNoLaw     Code = "read.no law"
	ReadClosed    Code = "read.closed"      // ohm
	ReadOver      Code = "read.closed over" // ohm
	ReadLate      Code = "read.late"
	ReadTeases    Code = "read.teases"
	ReadUnsteady  Code = "read.unsteady"
	ReadMake      Code = "read.bounces on make"
	ReadBreak     Code = "read.bounces on break"
	ReadGhost     Code = "read.ghost"
	ReadRest      Code = "read.rest"      // line, pin, line, pin, ohm
	ReadRestOver  Code = "read.rest over" // line, pin, line, pin, ohm
	ReadLoop      Code = "read.loop"      // pin, ohm
	ReadLoopOver  Code = "read.loop over" // pin, ohm
	ReadHeld      Code = "read.held"      // line, pin, line, pin, key, its lines
	ReadJoins     Code = "read.joins"
	ReadGone      Code = "read.gone"
	ReadUnjoined  Code = "read.unjoined"
	ReadEarlier   Code = "read.earlier"          // failed here, of, failed elsewhere, of
	ReadAlone     Code = "read.earlier, one jig" // failed here, of
	MaskedAtRest  Code = "masked.joined"         // line, pin, line, pin
	MaskedByBreak Code = "masked.by break"       // line
	MaskedByCrack Code = "masked.by crack"       // line
	MaskedBySwap  Code = "masked.moved"
	MaskedMissed  Code = "masked.not reached"
)

// The diagnosis in one line; what follows the first is added to it.
const (
	JigMisreads  Code = "sum.jig misreads"
	NothingWrong Code = "sum.nothing wrong" // keys tested, of
	NothingAsFar Code = "sum.as far"        // keys tested, of
	NotPressed   Code = "sum.not pressed"
	NoKeyTested  Code = "sum.no key tested"
	Unread       Code = "sum.unread" // keys
	NoCause      Code = "sum.no cause"
	Likeliest    Code = "sum.likeliest" // the first cause, which is in the groups
	OrOthers     Code = "sum.or others" // how many the readings cannot tell from it
	AndMore      Code = "sum.and more"  // causes
	FullStop     Code = "sum.end"
)

// said is a fact with its arguments, as they are written.
func said(code Code, args ...any) Said {
	s := Said{Code: code}
	for _, a := range args {
		s.Args = append(s.Args, fmt.Sprint(a))
	}
	return s
}

// saidOf has the code for values, or the one for what is over them, and the value last.
func saidOf(value, over Code, r readings.Reading, args ...any) Said {
	if r.AtLeast {
		value = over
	}
	return said(value, append(args, r.Value)...)
}

// keyArgs name a key: its label and its lines.
func keyArgs(p *product.Product, k int) []any {
	key := p.Keys[k]
	return []any{key.Label, p.Lines[key.A].Name, p.Lines[key.B].Name}
}

// lineArgs name lines, each with its pin.
func lineArgs(p *product.Product, lines ...int) (args []any) {
	for _, l := range lines {
		args = append(args, p.Lines[l].Name, p.Lines[l].Pin)
	}
	return args
}

func atKey(p *product.Product, k int) Said { return said(AtKey, keyArgs(p, k)...) }
