package signin

import (
	"crypto/sha256"
	"maps"
	"net"
	"net/netip"
	"sync"
	"time"
)

// How many guesses at passwords are looked at. Each allowance fills at once and
// comes back evenly over allowanceTime. (OWASP's Authentication Cheat Sheet, from
// memory, wants limits tied to the account and not to the address alone; the
// figures are common practice, no source.)
const (
	GuessesAtAccount   = 5  // at one account from one address
	GuessesFromAddress = 20 // from one address, at whatever accounts
	GuessesOfStrangers = 30 // at one account, from all addresses it never signed in from
	allowanceTime      = time.Minute
	// misread is what a badge that nobody has counts at its address: its code
	// cannot be guessed, so it is a slip of the scanner or of no use.
	misread = 0.2
	// mostCounters bounds the memory, but for the guesses of a minute. Addresses for
	// which there is no room share one counter.
	mostCounters = 8192
	sweepTime    = time.Second
)

// loginLimiter counts guesses before they are looked at, so that many at once are no
// more than many in a row. Nobody is ever locked out for good: that would stop a
// line.
type loginLimiter struct {
	mu    sync.Mutex
	fills map[counter]fill
	swept time.Time // when what had come back was last thrown away
}

// counter names what guesses are counted at: an account from an address, an
// address, or an account from everywhere. Accounts are hashed: what is typed as
// a name may be long.
type counter struct {
	account [sha256.Size]byte
	address netip.Prefix
}

// fill is how much of an allowance is used up, as it was at a time.
type fill struct {
	used float64
	at   time.Time
	told bool // that it was used up
}

// guess is one that may be looked at. It counts as wrong until it was right.
type guess struct {
	of  *loginLimiter
	all []use
	own counter // of its account at its address; none for a badge
}

// use is what a guess uses up of an allowance.
type use struct {
	counter
	cost, most float64
}

// password asks to look at a guess at a password. For one that must not be looked
// at it gives nil, and whether it is the first of these, worth a record. A known
// address is one that the account signed in from before, or the station itself:
// guesses of strangers do not touch it.
func (l *loginLimiter) password(account string, from netip.Prefix, known bool, now time.Time) (g *guess, first bool) {
	name := sha256.Sum256([]byte(account))
	l.mu.Lock()
	defer l.mu.Unlock()
	from = l.room(from, known, now)
	own := counter{name, from}
	all := []use{{own, 1, GuessesAtAccount}, {counter{address: from}, 1, GuessesFromAddress}}
	if !known {
		all = append(all, use{counter{account: name}, 1, GuessesOfStrangers})
	}
	if g, first = l.take(all, now); g != nil {
		g.own = own
	}
	return g, first
}

// badge counts a badge at its address before anybody has looked whose it is. It
// gives nil when too many belonged to nobody; one that belongs to somebody is
// good even then.
func (l *loginLimiter) badge(from netip.Prefix, now time.Time) (g *guess, first bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.take([]use{{counter{address: l.room(from, false, now)}, misread, GuessesFromAddress}}, now)
}

// take uses up something of every allowance, or of none if one is used up.
func (l *loginLimiter) take(all []use, now time.Time) (*guess, bool) {
	for _, u := range all {
		is := l.fills[u.counter].after(now, u.most)
		if is.used+u.cost > u.most+slack {
			first := !is.told
			is.told = true
			l.fills[u.counter] = is
			return nil, first
		}
	}
	for _, u := range all {
		is := l.fills[u.counter].after(now, u.most)
		l.fills[u.counter] = fill{is.used + u.cost, now, false}
	}
	return &guess{of: l, all: all}, false
}

// slack is what sums of fractions may be off by.
const slack = 1e-6

// after is a fill when time has passed. Times of time.Now differ by the
// monotonic clock, so that setting the other one gives nothing and takes nothing.
func (f fill) after(now time.Time, most float64) fill {
	if passed := now.Sub(f.at); passed > 0 {
		f.used = max(0, f.used-most*float64(passed)/float64(allowanceTime))
		f.at = now
	}
	if f.used == 0 {
		f.told = false
	}
	return f
}

// right takes a guess back that was none, and with it the slips before it of the
// same account at the same address.
func (g *guess) right() {
	if g == nil {
		return
	}
	g.of.mu.Lock()
	defer g.of.mu.Unlock()
	for _, u := range g.all {
		if is, counted := g.of.fills[u.counter]; counted {
			is.used = max(0, is.used-u.cost)
			g.of.fills[u.counter] = is
		}
	}
	if g.own != (counter{}) {
		delete(g.of.fills, g.own)
	}
}

// room makes room for the counters of one more guess. When there is none, an
// address is counted with all others that came too late, unless it is known:
// there are only as many of these as people signed in from.
func (l *loginLimiter) room(from netip.Prefix, known bool, now time.Time) netip.Prefix {
	if l.fills == nil {
		l.fills = map[counter]fill{}
	}
	const oneGuess = 3
	if len(l.fills) <= mostCounters-oneGuess {
		return from
	}
	if passed := now.Sub(l.swept); passed < 0 || passed >= sweepTime { // else a flood would sweep at every guess
		l.swept = now
		maps.DeleteFunc(l.fills, func(_ counter, is fill) bool { return now.Sub(is.at) >= allowanceTime })
	}
	if _, counted := l.fills[counter{address: from}]; counted || known || len(l.fills) <= mostCounters-oneGuess {
		return from
	}
	return tooLate
}

var tooLate = netip.PrefixFrom(netip.IPv6Unspecified(), 0)

// AddressOf is where a connection comes from, of its remote address. Behind a proxy
// that is the proxy, for everybody: headers that say otherwise can be written by
// anyone. Of an IPv6 address the network counts (the first 64 bits, RFC 4291
// section 2.5.1), since a host has all the rest to choose from.
func AddressOf(remote string) netip.Prefix {
	host, _, err := net.SplitHostPort(remote)
	if err != nil {
		return netip.Prefix{}
	}
	address, err := netip.ParseAddr(host)
	if err != nil {
		return netip.Prefix{}
	}
	address = address.Unmap().WithZone("")
	bits := address.BitLen()
	if address.Is6() && !address.IsLoopback() {
		bits = 64
	}
	return netip.PrefixFrom(address, bits).Masked()
}

// addressText writes an address as it is recorded.
func addressText(p netip.Prefix) string {
	if p.IsSingleIP() {
		return p.Addr().String()
	}
	return p.String()
}
