# Compiles files into a program: embed_files(TARGET FUNCTION NAMESPACE HEADER FILES a b) writes a
# source with `Result<std::string_view> FUNCTION(std::string_view name)` over the files' base names.
set(FAIRLEAD_EMBED_SCRIPT ${CMAKE_CURRENT_LIST_DIR}/embed_script.cmake)
function(embed_files target function namespace header)
  cmake_parse_arguments(E "" "" "FILES" ${ARGN})
  set(out ${CMAKE_CURRENT_BINARY_DIR}/${target}_${function}.cpp)
  string(REPLACE ";" "|" joined "${E_FILES}")
  add_custom_command(
    OUTPUT ${out}
    COMMAND ${CMAKE_COMMAND} -DOUT=${out} -DFUNCTION=${function} -DNAMESPACE=${namespace}
            -DHEADER=${header} "-DFILES=${joined}" -DROOT=${CMAKE_CURRENT_SOURCE_DIR} -P
            ${FAIRLEAD_EMBED_SCRIPT}
    DEPENDS ${E_FILES} ${FAIRLEAD_EMBED_SCRIPT}
    WORKING_DIRECTORY ${CMAKE_CURRENT_SOURCE_DIR}
    VERBATIM)
  target_sources(${target} PRIVATE ${out})
endfunction()
