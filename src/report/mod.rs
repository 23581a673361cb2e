//! What we say (document), then how (html, md, svg, json, parquet, ipynb).
