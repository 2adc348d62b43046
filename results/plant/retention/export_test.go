package retention

// ReadRows counts the rows of a file.
func ReadRows(path string) (int64, error) {
	v, err := readBack(path)
	if err != nil {
		return 0, err
	}
	return v.rows, nil
}
