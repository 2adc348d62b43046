package units

// Query is what is asked.
const Query = query
