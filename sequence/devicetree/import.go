package devicetree

// Import reads the keypad that node names, by path or label, from a source;
// with no node the only keypad there is. file stands for the source in what is
// said about it.
func Import(file string, text []byte, node string) (*Keypad, error) {
	t, err := Parse(file, text)
	if err != nil {
		return nil, err
	}
	n, err := t.Keypad(node)
	if err != nil {
		return nil, err
	}
	return t.Read(n)
}
