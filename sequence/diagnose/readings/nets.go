package readings

import "padjig/sequence/nets"

// Lines are two lines of a product, in whichever order they were read.
type Lines [2]int

// Are reports whether they are a and b.
func (l Lines) Are(a, b int) bool { return l == Lines{a, b} || l == Lines{b, a} }

// Ordered has the lower line first.
func (l Lines) Ordered() Lines { return Lines{min(l[0], l[1]), max(l[0], l[1])} }

// Nets are those that the rest matrix shows.
func (u *Unit) Nets() *nets.Nets { return u.netsOf(func(*Pair) bool { return true }) }

// FirstNets are those that it showed before keys were pressed.
func (u *Unit) FirstNets() *nets.Nets { return u.netsOf(func(p *Pair) bool { return !p.Again }) }

func (u *Unit) netsOf(counts func(*Pair) bool) *nets.Nets {
	n := nets.New(len(u.Product.Lines))
	for i := range u.Rest {
		if p := &u.Rest[i]; counts(p) && !p.Ohm.AtLeast && p.Ohm.Value < u.Closure {
			n.Join(p.Lines[0], p.Lines[1])
		}
	}
	return n
}
