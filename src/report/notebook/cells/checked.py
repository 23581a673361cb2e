(
    pl.DataFrame(checked, infer_schema_length=None).select("fault", "name", "here", "findings", "tolerance", "agrees")
    if checked
    else "no finding"
)
