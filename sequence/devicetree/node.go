package devicetree

import (
	"fmt"
	"slices"
	"strings"
)

const keymapProperty = "linux,keymap"

// Path gives the path of the node from the root, or its reference when only
// that is known.
func (n *Node) Path() string {
	if n.Parent == nil {
		return n.Name
	}
	return strings.TrimSuffix(n.Parent.Path(), "/") + "/" + n.Name
}

// Property gives the property of that name, nil when there is none.
func (n *Node) Property(name string) *Property {
	for i := range n.Properties {
		if n.Properties[i].Name == name {
			return &n.Properties[i]
		}
	}
	return nil
}

func (n *Node) set(p Property) {
	if old := n.Property(p.Name); old != nil {
		*old = p
		return
	}
	n.Properties = append(n.Properties, p)
}

func (n *Node) find(name string) *Node {
	for _, c := range n.Children {
		if c.Name == name {
			return c
		}
	}
	return nil
}

func (n *Node) child(name string, at place) *Node {
	if c := n.find(name); c != nil {
		return c
	}
	c := &Node{Name: name, Parent: n, Line: at.line, Column: at.column}
	n.Children = append(n.Children, c)
	return c
}

// each gives n and everything below it, in the order of the source.
func (n *Node) each(visit func(*Node)) {
	visit(n)
	for _, c := range n.Children {
		c.each(visit)
	}
}

func (t *Tree) each(visit func(*Node)) {
	t.root.each(visit)
	for _, n := range t.orphans {
		n.each(visit)
	}
}

// referred finds a node by its label or its path.
func (t *Tree) referred(name string) *Node {
	var found *Node
	t.each(func(n *Node) {
		if found == nil && (slices.Contains(n.Labels, name) || n.isAt(name)) {
			found = n
		}
	})
	return found
}

// isAt reports whether name is the path of n, or that by which it was referred to.
func (n *Node) isAt(name string) bool {
	if !strings.HasPrefix(name, "/") {
		return false
	}
	path := n.Path()
	return path == name || path == "&"+name
}

func (t *Tree) remove(n *Node) {
	switch {
	case n == nil:
	case n.Parent != nil:
		n.Parent.Children = slices.DeleteFunc(n.Parent.Children, func(c *Node) bool { return c == n })
	default:
		t.orphans = slices.DeleteFunc(t.orphans, func(o *Node) bool { return o == n })
	}
}

// Keypads gives the nodes that hold a keymap, in the order of the source.
func (t *Tree) Keypads() []*Node {
	var all []*Node
	t.each(func(n *Node) {
		if n.Property(keymapProperty) != nil {
			all = append(all, n)
		}
	})
	return all
}

// Keypad gives the node with a keymap that is named by its path or label, with
// & or without; with no name the only one there is.
func (t *Tree) Keypad(name string) (*Node, error) {
	all := t.Keypads()
	if name != "" {
		n := t.referred(strings.TrimPrefix(name, "&"))
		if n == nil || n.Property(keymapProperty) == nil {
			return nil, fmt.Errorf("find the keypad %q in %s: no such node with %s; there is %s",
				name, t.file, keymapProperty, listed(all))
		}
		return n, nil
	}
	if len(all) != 1 {
		return nil, fmt.Errorf("find the keypad in %s: expected one node with %s; there is %s",
			t.file, keymapProperty, listed(all))
	}
	return all[0], nil
}

func listed(nodes []*Node) string {
	if len(nodes) == 0 {
		return "none"
	}
	var names []string
	for _, n := range nodes {
		name := n.Path()
		if len(n.Labels) > 0 && n.Parent != nil {
			name += " (&" + n.Labels[0] + ")"
		}
		names = append(names, name)
	}
	return strings.Join(names, ", ")
}
